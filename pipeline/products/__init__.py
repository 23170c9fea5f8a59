"""What people hold in their hands: map, drive sheet, GPS and GIS files, tables, report."""
