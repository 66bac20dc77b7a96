// A text and its signatures lie in several files. Whatever call fails, and whether the machine dies
// there, what is read afterwards is all of the old or all of the new.
#include <cerrno>

#include "io/faulting.h"
#include "seal/sealed.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using cardseal::test::TempFolder;

namespace {

seal::SignedText made(const char* text, std::initializer_list<std::uint8_t> signatures) {
  seal::SignedText out;
  const std::string_view bytes = text;
  out.text.assign(bytes.begin(), bytes.end());
  for (const std::uint8_t each : signatures) {
    crypto::Signature signature{};
    signature.fill(each);
    out.signatures.push_back(signature);
  }
  return out;
}

bool same(const seal::SignedText& a, const seal::SignedText& b) {
  return a.text == b.text && a.signatures == b.signatures;
}

void write(io::System& system, const io::Path& path, const seal::SignedText& text) {
  REQUIRE(seal::write_signed(system, path, text, io::IfExists::replace).has_value());
}

seal::SignedText read(const io::Path& path) {
  Try<seal::SignedText> out = seal::read_signed(io::real_system(), path, 8192);
  REQUIRE(out.has_value());
  return *out;
}

struct Counts {
  std::size_t old_ones = 0;
  std::size_t new_ones = 0;
};

// Replaces `before` by `after` with the call `nth` failing; false when there was no such call.
bool cut_at(std::uint64_t nth, bool stay_down, const seal::SignedText& before,
            const seal::SignedText& after, Counts& counts) {
  const TempFolder folder;
  const io::Path path = folder / "owner.trust";
  write(io::real_system(), path, before);
  io::FaultingSystem system(io::real_system());
  system.fail_at(nth, EIO);
  system.stay_down(stay_down);
  system.tear_after(3);
  const bool good = seal::write_signed(system, path, after, io::IfExists::replace).has_value();
  const seal::SignedText found = read(path);
  INFO("call " << nth << (stay_down ? ", power cut" : ", one fault"));
  CHECK((same(found, before) || same(found, after)));
  CHECK((!good || same(found, after)));
  counts.old_ones += same(found, before) ? 1 : 0;
  counts.new_ones += same(found, after) ? 1 : 0;
  // Whoever goes on afterwards comes to a whole state, with nothing left over.
  const seal::SignedText last = made("last\n", {9});
  write(io::real_system(), path, last);
  CHECK(same(read(path), last));
  CHECK_FALSE(std::filesystem::exists(seal::pending_path(path)));
  CHECK_FALSE(std::filesystem::exists(seal::signature_path(path, 1)));
  return system.changing_calls() > nth;
}

void cut_everywhere(const seal::SignedText& before, const seal::SignedText& after) {
  for (const bool stay_down : {false, true}) {
    Counts counts;
    std::uint64_t nth = 0;
    while (cut_at(nth, stay_down, before, after, counts)) {
      ++nth;
    }
    CHECK(nth > 10);
    CHECK(counts.old_ones > 2);
    CHECK(counts.new_ones > 5);
  }
}

} // namespace

TEST_CASE("a cut at any step of replacing a signed text leaves the old or the new whole") {
  cut_everywhere(made("the list 1\n", {1, 2}), made("the list 2\n", {}));
  cut_everywhere(made("the list 1\n", {}), made("the list 2\n", {3, 4, 5}));
  cut_everywhere(made("the list 1\n", {2}), made("the list 1\n", {1, 2})); // one more signature
}

TEST_CASE("a file of the pending name that is none is an error, and nothing is guessed") {
  const TempFolder folder;
  const io::Path path = folder / "owner.trust";
  write(io::real_system(), path, made("the list 1\n", {1}));
  for (const char* content :
       {"", "cardseal-pending 2\n", "cardseal-pending 2\nreplaces -\nsignatures 9\n",
        "cardseal-pending 2\nreplaces -\nsignatures 2\nshort", "cardseal-pending 2\nreplaces -\n",
        "cardseal-pending 2\nreplaces -\nsignatures 10\n", "cardseal-pending 2\nsignatures 0\n",
        "cardseal-pending 1\nsignatures 0\nthe list 2\n"}) {
    REQUIRE(io::write_file(io::real_system(), seal::pending_path(path), bytes_of(content),
                           io::IfExists::replace)
                .has_value());
    const Try<seal::SignedText> found = seal::read_signed(io::real_system(), path, 8192);
    REQUIRE_FALSE(found.has_value());
    CHECK(found.error().code == "pending-form");
  }
}

TEST_CASE("what an interrupted change left never hides a text that came later") {
  const TempFolder folder;
  const io::Path path = folder / "owner.trust";
  write(io::real_system(), path, made("the list 1\n", {1}));
  for (std::uint64_t nth = 0; !std::filesystem::exists(seal::pending_path(path)); ++nth) {
    io::FaultingSystem system(io::real_system()); // cut where no more than that file was made
    system.fail_at(nth, EIO);
    system.stay_down(true);
    CHECK_FALSE(seal::write_signed(system, path, made("the list 2\n", {2}), io::IfExists::replace)
                    .has_value());
  }
  CHECK(same(read(path), made("the list 2\n", {2})));

  const auto code_beside = [&] {
    const Try<seal::SignedText> found = seal::read_signed(io::real_system(), path, 8192);
    return found ? std::string() : found.error().code;
  };
  REQUIRE(io::write_file(io::real_system(), path, bytes_of("the list 3\n"), io::IfExists::replace)
              .has_value());
  CHECK(code_beside() == "pending-other");
  std::filesystem::remove(path);
  CHECK(code_beside() == "pending-other");
  const Try<void> new_one =
      seal::write_signed(io::real_system(), path, made("the list 3\n", {3}), io::IfExists::refuse);
  REQUIRE_FALSE(new_one.has_value());
  CHECK(new_one.error().code == "pending-left");
  CHECK_FALSE(std::filesystem::exists(path));
  REQUIRE(io::write_file(io::real_system(), path, bytes_of("the list 2\n"), io::IfExists::replace)
              .has_value());
  CHECK(same(read(path), made("the list 2\n", {2}))); // cut behind the text, before its signatures
}
