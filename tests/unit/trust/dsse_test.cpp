#include "trust/dsse.h"

#include <fstream>

#include "format/signoff.h"
#include "support/outside.h"
#include "support/sealed_examples.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;
using trust::dsse_head;
using trust::dsse_head_for_kind;

namespace {

std::string text_of_head(const trust::DsseHead& head) {
  return std::string(text_of(head.view()));
}

void write_file(const std::filesystem::path& path, ByteView bytes) {
  std::ofstream file(path, std::ios::binary);
  file.write(reinterpret_cast<const char*>(bytes.data()),
             static_cast<std::streamsize>(bytes.size()));
  REQUIRE(file.good());
}

} // namespace

// secure-systems-lab/dsse, protocol.md, test vectors.
TEST_CASE("the pre-authentication encoding gives the published check value") {
  const std::string body = "hello world";
  const trust::DsseHead head = dsse_head("http://example.com/HelloWorld", body.size());
  CHECK(text_of_head(head) + body == "DSSEv1 29 http://example.com/HelloWorld 11 hello world");
}

TEST_CASE("lengths are those of type and body, for every kind") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string type = "application/vnd.cardseal." + std::string(T::kind) + ".v1";
    const std::string expected = "DSSEv1 " + std::to_string(type.size()) + " " + type + " ";
    for (const std::size_t size : {std::size_t{0}, std::size_t{9}, std::size_t{10}, T::limit}) {
      CHECK(text_of_head(dsse_head_for_kind(T::kind, size)) ==
            expected + std::to_string(size) + " ");
    }
  });
}

TEST_CASE("the longest type and body fit their head") {
  const std::string type(64, 't');
  CHECK(text_of_head(dsse_head(type, 1'048'576)) == "DSSEv1 64 " + type + " 1048576 ");
  const std::string kind(16, 'k');
  CHECK(text_of_head(dsse_head_for_kind(kind, 65'536)) ==
        "DSSEv1 44 application/vnd.cardseal." + kind + ".v1 65536 ");
}

TEST_CASE("every payload type in the table of kinds is the code's") {
  const Table table = spec().tables("### Kinds").at(0);
  std::size_t signed_kinds = 0;
  for (const TableRow& row : table) {
    if (row[2].rfind("none", 0) != 0) {
      const std::string head = text_of_head(dsse_head_for_kind(plain(row[0]), 1));
      CHECK_THAT(head, ContainsSubstring(" " + plain(row[2]) + " "));
      ++signed_kinds;
    }
  }
  CHECK(signed_kinds == 9);
}

TEST_CASE("the example's head is the sign-off's") {
  const std::string text = example_of<format::Signoff>();
  CHECK(text_of_head(dsse_head_for_kind("signoff", text.size())) + "\n" ==
        spec().example("text", "example-dsse-head"));
}

// The key: RFC 8032 section 7.1, TEST 1; its 12 bytes in front are RFC 8410's for Ed25519.
TEST_CASE("openssl verifies the example's signature over head and text, and over nothing else") {
  if (!have("openssl")) {
    return;
  }
  const std::string text = example_of<format::Signoff>();
  const TempFolder folder;
  write_file(folder / "key.der",
             unhex("302a300506032b6570032100"
                   "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"));
  write_file(folder / "signature", spec().hex_example("example-signature"));
  const auto verify = [&](const std::string& message) {
    write_file(folder / "message", bytes_of(message));
    return run("cd " + shell(folder.path().string()) +
               " && openssl pkeyutl -verify -pubin -keyform DER -inkey key.der -rawin -in message"
               " -sigfile signature");
  };
  const std::string head = text_of_head(dsse_head_for_kind("signoff", text.size()));
  const Ran good = verify(head + text);
  CAPTURE(good.output);
  CHECK(good.exit_code == 0);
  CHECK(verify(text).exit_code != 0);
  CHECK(verify(text_of_head(dsse_head_for_kind("withdrawal", text.size())) + text).exit_code != 0);
}
