<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
<qgis version="3.22.0" styleCategories="Symbology">
 <renderer-v2 type="categorizedSymbol" attr="verdict" symbollevels="1" enableorderby="0">
  <categories>
   <category value="ample" label="ample" symbol="0" render="true" />
   <category value="watch" label="watch" symbol="1" render="true" />
   <category value="spot" label="spot" symbol="2" render="true" />
   <category value="unsurveyed" label="unsurveyed" symbol="3" render="true" />
   <category value="barred" label="barred" symbol="4" render="true" />
  </categories>
  <symbols>
   <symbol type="line" name="0" alpha="1" clip_to_extent="1">
    <layer class="SimpleLine" pass="0" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="255,255,255,255" />
      <Option type="QString" name="line_width" value="1.8" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="255,255,255,255" />
     <prop k="line_width" v="1.8" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="0" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="138,135,121,255" />
      <Option type="QString" name="line_width" value="0.5" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="138,135,121,255" />
     <prop k="line_width" v="0.5" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
   </symbol>
   <symbol type="line" name="1" alpha="1" clip_to_extent="1">
    <layer class="SimpleLine" pass="1" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="255,255,255,255" />
      <Option type="QString" name="line_width" value="1.8" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="255,255,255,255" />
     <prop k="line_width" v="1.8" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="1" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="87,93,109,255" />
      <Option type="QString" name="line_width" value="0.8" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="1" />
      <Option type="QString" name="customdash" value="3.2;1.2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="87,93,109,255" />
     <prop k="line_width" v="0.8" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="1" />
     <prop k="customdash" v="3.2;1.2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
   </symbol>
   <symbol type="line" name="2" alpha="1" clip_to_extent="1">
    <layer class="SimpleLine" pass="2" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="255,255,255,255" />
      <Option type="QString" name="line_width" value="1.8" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="255,255,255,255" />
     <prop k="line_width" v="1.8" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="2" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="18,53,112,255" />
      <Option type="QString" name="line_width" value="1.3" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="1" />
      <Option type="QString" name="customdash" value="1.0;1.2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="18,53,112,255" />
     <prop k="line_width" v="1.3" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="1" />
     <prop k="customdash" v="1.0;1.2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
   </symbol>
   <symbol type="line" name="3" alpha="1" clip_to_extent="1">
    <layer class="SimpleLine" pass="3" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="107,107,107,255" />
      <Option type="QString" name="line_width" value="1.5" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="107,107,107,255" />
     <prop k="line_width" v="1.5" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="3" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="255,255,255,255" />
      <Option type="QString" name="line_width" value="0.9" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="255,255,255,255" />
     <prop k="line_width" v="0.9" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
   </symbol>
   <symbol type="line" name="4" alpha="1" clip_to_extent="1">
    <layer class="SimpleLine" pass="4" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="255,255,255,255" />
      <Option type="QString" name="line_width" value="1.8" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="255,255,255,255" />
     <prop k="line_width" v="1.8" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="4" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="26,26,26,255" />
      <Option type="QString" name="line_width" value="0.5" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="0" />
      <Option type="QString" name="customdash" value="5;2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="26,26,26,255" />
     <prop k="line_width" v="0.5" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="0" />
     <prop k="customdash" v="5;2" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
    <layer class="SimpleLine" pass="4" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="26,26,26,255" />
      <Option type="QString" name="line_width" value="2.0" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="1" />
      <Option type="QString" name="customdash" value="0.4;1.6" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="26,26,26,255" />
     <prop k="line_width" v="2.0" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="1" />
     <prop k="customdash" v="0.4;1.6" />
     <prop k="customdash_unit" v="MM" />
     <data_defined_properties>
      <Option type="Map">
       <Option type="QString" name="name" value="" />
       <Option type="Map" name="properties">
        <Option type="Map" name="offset">
         <Option type="bool" name="active" value="true" />
         <Option type="QString" name="expression" value="CASE WHEN &quot;direction&quot; = 'with' THEN 1 ELSE -1 END" />
         <Option type="int" name="type" value="3" />
        </Option>
       </Option>
       <Option type="QString" name="type" value="collection" />
      </Option>
     </data_defined_properties>
    </layer>
   </symbol>
  </symbols>
 </renderer-v2>
</qgis>
