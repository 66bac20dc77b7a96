# cmake -DSOURCE=<templates/pages> -DOUTPUT=<file.cpp> -P embed.cmake
# Writes every file of the folder into one source as text. A literal holds 60,000 characters at most.
set(text "#include \"page/embedded.h\"\n\nnamespace cardseal::page {\nnamespace {\n\nconstexpr EmbeddedFile all[] = {\n")
file(GLOB files ${SOURCE}/*)
list(SORT files)
foreach(path IN LISTS files)
  get_filename_component(name ${path} NAME)
  file(READ ${path} content)
  string(APPEND text "    {\"${name}\", R\"embedded(${content})embedded\"},\n")
endforeach()
string(APPEND text "};\n\n} // namespace\n\nstd::span<const EmbeddedFile> embedded_files() { return all; }\n\n} // namespace cardseal::page\n")
file(WRITE ${OUTPUT} "${text}")
