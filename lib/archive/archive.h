// What was approved, sent out and came back, kept by digest for as long as a lot may be asked
// about: packages with the trust list of their day, card images, run logs, what quality signed.
//
//   FOLDER/archive.txt          "cardseal-archive 1"
//   FOLDER/objects/ab/<digest>  bytes, named by their SHA-256; a card image without its holes
//   FOLDER/items/<digest>.txt   what an item is and of which parts; named by its first part's
//   digest
//
// Nothing in it is ever changed or taken away: adding what is there is no step. An item appears
// when all of its parts are there, so whatever dies in between leaves only bytes that nothing
// names.
//
// Errors: archive-form (a file of it is not in its form), archive-none (no archive there),
// archive-missing (no such item), archive-names (two parts of one name), archive-object (bytes are
// not what they are named), and those of io.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "crypto/sha256.h"
#include "io/file.h"

namespace cardseal::archive {

enum class Kind : std::uint8_t { package, card, log, trust, statement, order };
inline constexpr std::array<std::string_view, 6> kind_words{"package", "card",      "log",
                                                            "trust",   "statement", "order"};

struct Part {
  std::string name;        // a file's, without folders
  crypto::Digest digest{}; // of its bytes as they are kept
  std::uint64_t size = 0;  // of the file when it is taken out, bytes
  bool sparse = false;     // kept without its holes
};

struct Item {
  Kind kind = Kind::package;
  std::string title;       // for people: printable, at most 96 bytes
  std::string time;        // claimed
  std::vector<Part> parts; // the first one names the item
  const crypto::Digest& id() const { return parts.front().digest; }
};

// A file that is to be kept: bytes, or an image read from disk and kept without its holes.
struct Source {
  std::string name;
  io::Bytes bytes;
  std::optional<io::Path> image;
};

class Archive {
public:
  static Try<Archive> create(io::System& system, const io::Path& folder); // a new folder
  static Try<Archive> open(io::System& system, const io::Path& folder);

  struct Added {
    Item item;
    bool fresh = true; // false: it was there, with what was kept beside it then
  };
  Try<Added> add(Kind kind, const std::string& title, const std::vector<Source>& sources);

  Try<std::vector<Item>> items() const; // by kind, then title
  // By its whole digest or as many first digits of it as name one item; at least 8.
  Try<Item> find(const std::string& digits) const;

  // All parts of an item into a new folder, each checked against its digest first.
  Try<void> take_out(const Item& item, const io::Path& folder) const;

  // What is wrong, in words; empty: every part of every item is there and is what it is named.
  // `objects`: how many were read. Bytes that no item names are no fault.
  Try<std::vector<std::string>> scrub(std::uint64_t& objects) const;

  // Copies an item with all its parts, each checked on the way. False: it is there already.
  Try<bool> copy_to(Archive& other, const Item& item) const;

private:
  Archive(io::System& system, io::Path folder) : system_(&system), folder_(std::move(folder)) {}
  io::Path object_path(const crypto::Digest& digest) const;
  io::Path item_path(const crypto::Digest& digest) const;
  Try<io::Bytes> object(const crypto::Digest& digest) const;
  Try<void> put_object(const crypto::Digest& digest, ByteView bytes);
  Try<void> put_item(const Item& item);
  Try<std::vector<io::Path>> item_files() const;

  io::System* system_;
  io::Path folder_;
};

} // namespace cardseal::archive
