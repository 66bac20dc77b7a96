# cmake -DSOURCE=<templates/author> -DOUTPUT=<file.cpp> -P embed_templates.cmake
set(text "#include \"templates.h\"\n\nnamespace cardseal::tool {\nnamespace {\n\nconstexpr Template all[] = {\n")
foreach(pair release.xml=release.xml device.xml=profiles/device.xml board.xml=profiles/board.xml
             station.xml=profiles/station.xml)
  string(REPLACE "=" ";" pair ${pair})
  list(GET pair 0 name)
  list(GET pair 1 place)
  file(READ ${SOURCE}/${name} content)
  string(APPEND text "    {\"${place}\", R\"embedded(${content})embedded\"},\n")
endforeach()
file(READ ${SOURCE}/order.xml content)
string(APPEND text "};\n\nconstexpr std::string_view order = R\"embedded(${content})embedded\";\n\n} // namespace\n\nstd::span<const Template> author_templates() { return all; }\n\nstd::string_view order_template() { return order; }\n\n} // namespace cardseal::tool\n")
file(WRITE ${OUTPUT} "${text}")
