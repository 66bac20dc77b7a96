// One authored XML file as a tree, after the byte scan of xml/scan.h. Read it through `Reader` and
// `Element` (xml/element.h), which know no value they were not asked for.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "diag/error.h"
#include "io/system.h"

namespace tinyxml2 {
class XMLDocument;
class XMLElement;
} // namespace tinyxml2

namespace cardseal::xml {

// Everything wrong with a file, ascending by line; never empty where it stands for a failure.
using Errors = std::vector<Error>;
template <class T>
using All = Result<T, Errors>;

class Document {
public:
  // At most 1 MiB. A file that can't be read, or the first departure from the form.
  static Try<Document> read(io::System& system, const io::Path& path);
  // `file` is the name that messages show.
  static Try<Document> parse(std::string_view bytes, std::string file);
  Document(Document&&) noexcept;
  Document& operator=(Document&&) noexcept;
  ~Document();

  const std::string& file() const { return file_; }
  const tinyxml2::XMLElement* root() const; // for `Reader` only; never null

private:
  Document(std::unique_ptr<tinyxml2::XMLDocument> tree, std::string file);
  std::unique_ptr<tinyxml2::XMLDocument> tree_;
  std::string file_;
};

// The file at `path` as what `read` makes of a document, e.g. read_as(system, path, read_device).
template <class T>
All<T> read_as(io::System& system, const io::Path& path, All<T> (*read)(const Document&)) {
  Try<Document> document = Document::read(system, path);
  if (!document) {
    return Unexpected(Errors{std::move(document).error()});
  }
  return read(*document);
}

} // namespace cardseal::xml
