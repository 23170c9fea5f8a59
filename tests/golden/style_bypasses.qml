<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
<qgis version="3.22.0" styleCategories="Symbology">
 <renderer-v2 type="categorizedSymbol" attr="bypass" symbollevels="1" enableorderby="0">
  <categories>
   <category value="" label="others" symbol="0" render="true" />
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
    </layer>
    <layer class="SimpleLine" pass="0" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="line_color" value="213,94,0,255" />
      <Option type="QString" name="line_width" value="1.0" />
      <Option type="QString" name="line_width_unit" value="MM" />
      <Option type="QString" name="line_style" value="solid" />
      <Option type="QString" name="capstyle" value="flat" />
      <Option type="QString" name="joinstyle" value="round" />
      <Option type="QString" name="use_custom_dash" value="1" />
      <Option type="QString" name="customdash" value="1.2;1.2" />
      <Option type="QString" name="customdash_unit" value="MM" />
     </Option>
     <prop k="line_color" v="213,94,0,255" />
     <prop k="line_width" v="1.0" />
     <prop k="line_width_unit" v="MM" />
     <prop k="line_style" v="solid" />
     <prop k="capstyle" v="flat" />
     <prop k="joinstyle" v="round" />
     <prop k="use_custom_dash" v="1" />
     <prop k="customdash" v="1.2;1.2" />
     <prop k="customdash_unit" v="MM" />
    </layer>
    <layer class="MarkerLine" pass="0" enabled="1" locked="0">
     <Option type="Map">
      <Option type="QString" name="placement" value="interval" />
      <Option type="QString" name="interval" value="12.0" />
      <Option type="QString" name="interval_unit" value="MM" />
      <Option type="QString" name="rotate" value="1" />
     </Option>
     <prop k="placement" v="interval" />
     <prop k="interval" v="12.0" />
     <prop k="interval_unit" v="MM" />
     <prop k="rotate" v="1" />
     <symbol type="marker" name="@0@2" alpha="1" clip_to_extent="1">
      <layer class="SimpleMarker" pass="0" enabled="1" locked="0">
       <Option type="Map">
        <Option type="QString" name="name" value="filled_arrowhead" />
        <Option type="QString" name="color" value="255,255,255,255" />
        <Option type="QString" name="outline_color" value="213,94,0,255" />
        <Option type="QString" name="outline_width" value="0.3" />
        <Option type="QString" name="size" value="2.8" />
        <Option type="QString" name="size_unit" value="MM" />
       </Option>
       <prop k="name" v="filled_arrowhead" />
       <prop k="color" v="255,255,255,255" />
       <prop k="outline_color" v="213,94,0,255" />
       <prop k="outline_width" v="0.3" />
       <prop k="size" v="2.8" />
       <prop k="size_unit" v="MM" />
      </layer>
     </symbol>
    </layer>
   </symbol>
  </symbols>
 </renderer-v2>
</qgis>
