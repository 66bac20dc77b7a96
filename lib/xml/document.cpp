#include "xml/document.h"

#include <tinyxml2.h>

#include "io/file.h"
#include "xml/scan.h"

namespace cardseal::xml {

Document::Document(std::unique_ptr<tinyxml2::XMLDocument> tree, std::string file)
    : tree_(std::move(tree)), file_(std::move(file)) {}
Document::Document(Document&&) noexcept = default;
Document& Document::operator=(Document&&) noexcept = default;
Document::~Document() = default;

const tinyxml2::XMLElement* Document::root() const {
  return tree_->RootElement();
}

Try<Document> Document::read(io::System& system, const io::Path& path) {
  Try<io::Bytes> bytes = io::read_file(system, path, max_file_bytes);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  return parse(text_of(*bytes), path.string());
}

Try<Document> Document::parse(std::string_view bytes, std::string file) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.place.file = file;
  if (bytes.size() > max_file_bytes) {
    error.code = "xml-size";
    error.what = "the file is too large";
    error.found = std::to_string(bytes.size()) + " bytes";
    error.expected = "at most " + std::to_string(max_file_bytes) + " bytes";
    error.hint = "an authored file is a few kilobytes: is it the right one?";
    return Unexpected(std::move(error));
  }
  constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF"; // some editors write one
  if (bytes.starts_with(byte_order_mark)) {
    bytes.remove_prefix(byte_order_mark.size());
  }
  Try<void> form = scan(bytes, file);
  if (!form) {
    return Unexpected(std::move(form).error());
  }
  auto tree = std::make_unique<tinyxml2::XMLDocument>();
  if (tree->Parse(bytes.data(), bytes.size()) != tinyxml2::XML_SUCCESS ||
      tree->RootElement() == nullptr) {
    error.code = "xml-form";
    error.what = "the file is not well-formed xml";
    error.place.line = static_cast<std::uint32_t>(tree->ErrorLineNum());
    error.found = tree->ErrorName();
    error.hint = "compare it with a template of templates/author";
    return Unexpected(std::move(error));
  }
  return Document(std::move(tree), std::move(file));
}

} // namespace cardseal::xml
