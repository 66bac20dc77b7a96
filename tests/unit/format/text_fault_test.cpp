// Each fault of a sealed text's form, with the line it is in.
#include "support/sealed_examples.h"

using namespace cardseal;
using namespace cardseal::test;
using format::Allotment;
using format::Manifest;
using format::Root;
using format::Signoff;
using format::TrustList;

namespace {

struct Case {
  const char* from;
  const char* to;
  std::uint32_t line;
};

template <class T>
void check_refused(const std::string& text, Fault fault, std::uint32_t line) {
  const Outcome outcome = decoded<T>(text);
  CAPTURE(T::kind, static_cast<int>(outcome.fault), outcome.position);
  CHECK(outcome.fault == fault);
  CHECK(outcome.position == line);
}

template <class T>
void check_each(Fault fault, std::initializer_list<Case> cases) {
  for (const Case& each : cases) {
    CAPTURE(each.from, each.to);
    check_refused<T>(changed(example_of<T>(), each.from, each.to), fault, each.line);
  }
}

const std::string bom = "\xEF\xBB\xBF";

} // namespace

TEST_CASE("a text one byte longer than its kind allows is refused before a line is read",
          "[check-101]") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string text = example_of<T>();
    check_refused<T>(text + std::string(T::limit + 1 - text.size(), 'x'), Fault::text_too_long, 0);
    CHECK(decoded<T>(text + std::string(T::limit - text.size(), 'x')).fault == Fault::text_end);
  });
}

TEST_CASE("a text of another kind, version or case is refused at line 1", "[check-102]") {
  check_each<Root>(Fault::text_header, {{"cardseal-root 1", "cardseal-root 2", 1},
                                        {"cardseal-root 1", "cardseal-root 1 ", 1},
                                        {"cardseal-root 1", "cardseal-root  1", 1},
                                        {"cardseal-root 1", "Cardseal-root 1", 1},
                                        {"cardseal-root 1", "cardseal-roots 1", 1},
                                        {"cardseal-root 1\n", "cardseal-root 1\r\n", 1},
                                        {"cardseal-root 1\n", "\ncardseal-root 1\n", 1},
                                        {"cardseal-root 1\n", "", 1}});
  check_refused<Root>(bom + example_of<Root>(), Fault::text_header, 1);
  check_refused<Root>(example_of<TrustList>(), Fault::text_header, 1);
  check_refused<Root>("", Fault::text_header, 1);
  check_refused<Root>("cardseal-root 1", Fault::text_header, 1);
}

TEST_CASE("a line of 255 bytes is the longest, and each ends with a line feed", "[check-103]") {
  const std::string root = example_of<Root>();
  check_refused<Root>(root.substr(0, root.size() - 1), Fault::text_line, 11);
  const std::string at_limit = "version " + std::string(246, '1') + "\n"; // 255 bytes
  check_refused<Root>(changed(root, "version 1\n", at_limit), Fault::text_form, 3);
  check_refused<Root>(changed(root, "version 1\n", "version 1" + at_limit.substr(8)),
                      Fault::text_line, 3);
}

TEST_CASE("a key that is unknown, missing, repeated or out of order is refused", "[check-104]") {
  check_each<Root>(Fault::text_key, {{"version 1\n", "Version 1\n", 3},
                                     {"version 1\n", "", 3},
                                     {"version 1\n", "version 1\nversion 1\n", 4},
                                     {"version 1\nthreshold 2\n", "threshold 2\nversion 1\n", 3},
                                     {"version 1\n", "version\n", 3},
                                     {"version 1\n", " version 1\n", 3},
                                     {"version 1\n", "\nversion 1\n", 3},
                                     {"version 1\n", "version\t1\n", 3},
                                     {"persons 2\n", "persons 1\n", 7},
                                     {"persons 2\n", "persons 3\n", 8}});
  check_refused<Root>(changed(example_of<Root>(), "owner -", bom + "owner -"), Fault::text_key, 2);
}

TEST_CASE("a field too few or too many is refused", "[check-105]") {
  check_each<Root>(Fault::text_fields, {{"version 1\n", "version 1 1\n", 3},
                                        {"version 1\n", "version 1 \n", 3},
                                        {" m-alder\n", "\n", 9},
                                        {"\"Marit Alder\"", "\"Marit Alder\"x", 6},
                                        {"\"Marit Alder\"", "\"Marit \"Alder\"", 6},
                                        {"m-alder \"Marit Alder\"", "m-alder", 6}});
  check_each<Manifest>(Fault::text_fields, {{"device-id 3 1e950f ffffff", "device-id 3 1e950f", 10},
                                            {"device-id 3 1e950f ffffff", "device-id - -", 10},
                                            {"\"FN-\" - -", "\"FN-\"- -", 29},
                                            {"\"FN-\" - -", "\"FN-\" -", 29},
                                            {"\"FN-\" - -", "\"FN-\" - - -", 29}});
}

TEST_CASE("a field in any other spelling is refused", "[check-106]") {
  check_each<Root>(Fault::text_form, {{"version 1\n", "version  1\n", 3},
                                      {"version 1\n", "version \n", 3},
                                      {"version 1\n", "version \t1\n", 3},
                                      {"version 1\n", "version 1\t\n", 3},
                                      {"version 1\n", "version 1\r\n", 3},
                                      {"version 1\n", "version 01\n", 3},
                                      {"version 1\n", "version +1\n", 3},
                                      {"version 1\n", "version -1\n", 3},
                                      {"version 1\n", "version -\n", 3},
                                      {"version 1\n", "version 1e0\n", 3},
                                      {"version 1\n", "version 10000000000000000000\n", 3},
                                      {"owner -", "owner --", 2},
                                      {"owner -", "owner none", 2},
                                      {"person m-alder", "person M-alder", 6},
                                      {"person m-alder", "person 9-alder", 6},
                                      {"person m-alder", "person m_alder", 6},
                                      {"\"Marit Alder\"", "Marit", 6},
                                      {"\"Marit Alder\"", "'Marit Alder'", 6},
                                      {"\"Marit Alder\"", "\"Marit Alder", 6},
                                      {"\"Marit Alder\"", "\"", 6},
                                      {"\"Marit Alder\"", "\"Marit\\Alder\"", 6},
                                      {"\"Marit Alder\"", "\"Marit\tAlder\"", 6},
                                      {"\"Marit Alder\"", "\"Marit\x7F\"", 6},
                                      {"\"Marit Alder\"", "\"Marit\xE2\x80\xAE\"", 6}, // U+202E
                                      {"\"Marit Alder\"", "\"\xEF\xBB\xBFMarit\"", 6}, // U+FEFF
                                      {"\"Marit Alder\"", "\"Marit\xC3\"", 6},
                                      {"\"Marit Alder\"", "\"\xC0\xAF\"", 6},
                                      {"key 278117fc", "key 278117FC", 9},
                                      {"key 278117fc", "key 278117f", 9},
                                      {"key 278117fc", "key 278117fcc", 9}});
  check_each<Signoff>(Fault::text_form, {{"T10:00:00Z", "T10:00:00z", 12},
                                         {"T10:00:00Z", "T10:00:60Z", 12},
                                         {"T10:00:00Z", "T24:00:00Z", 12},
                                         {"T10:00:00Z", "T10:00:00+00:00", 12},
                                         {"2026-03-03T", "2026-02-29T", 12},
                                         {"owner sha256:", "owner SHA256:", 2},
                                         {"owner sha256:", "owner ", 2},
                                         {"tool \"cardseal", "tool \"c\xC3\xA5rdseal", 19}});
  check_each<Allotment>(Fault::text_form, {{"card 4b1d", "card 4B1d", 6},
                                           {"card 4b1d", "card 1d", 6},
                                           {"slots 0000007f", "slots 7f", 17},
                                           {"slots 0000007f", "slots 0000007F", 17},
                                           {"class production", "class Production", 15}});
}

TEST_CASE("a NUL is refused wherever it stands", "[check-106]") {
  std::string text = example_of<Root>();
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string with_nul = text;
    with_nul[i] = '\0';
    CHECK_FALSE(decoded<Root>(with_nul).ok());
    with_nul = text;
    with_nul.insert(i, 1, '\0');
    CHECK_FALSE(decoded<Root>(with_nul).ok());
  }
}

TEST_CASE("a value outside its range is refused", "[check-107]") {
  check_each<Root>(Fault::text_range, {{"version 1\n", "version 0\n", 3},
                                       {"version 1\n", "version 1000000\n", 3},
                                       {"\"Marit Alder\"", "\"\"", 6},
                                       {"\"Marit Alder\"", "\"1234567890123456789012345\"", 6},
                                       {"person m-alder", "person m-alder-of-the-north", 6}});
  check_each<Signoff>(Fault::text_range, {{"role release", "role auditor", 7},
                                          {"numbers 0 19999", "numbers 20000 19999", 17},
                                          {"plain-file yes", "plain-file maybe", 18}});
}

TEST_CASE("a count above what a station holds is refused at the count's own line", "[check-108]") {
  check_each<Root>(Fault::text_count, {{"persons 2\n", "persons 17\n", 5},
                                       {"persons 2\n", "persons 65537\n", 5},
                                       {"persons 2\n", "persons 9999999999999999999\n", 5},
                                       {"keys 2\n", "keys 17\n", 8}});
  check_each<Manifest>(Fault::text_count, {{"segments 2\n", "segments 65\n", 37}});
  check_refused<Root>(changed(example_of<Root>(), "persons 2\n", "persons 0\n"), Fault::text_range,
                      5);
}

TEST_CASE("repeated lines that do not rise strictly are refused at the second", "[check-109]") {
  check_each<Manifest>(
      Fault::text_order,
      {{"segment 0 4096\nsegment 8192 1\n", "segment 8192 1\nsegment 0 4096\n", 39},
       {"segment 0 4096\nsegment 8192 1\n", "segment 0 4096\nsegment 0 4096\n", 39},
       {"segment 0 4096\nsegment 8192 1\n", "segment 10 1\nsegment 9 1\n", 39},
       {"part 2 date-code", "part 1 date-code", 30}});
  CHECK(decoded<Manifest>(
            changed(example_of<Manifest>(), "segment 0 4096\nsegment 8192 1\n",
                    "segment 9 1\nsegment 10 1\n")) // numbers are no text: "10" < "9" by bytes
            .ok());
}

TEST_CASE("an item named twice is refused although the rest of its line rises", "[check-109]") {
  check_each<Root>(Fault::text_order, {{"person t-tarn", "person m-alder", 7}});
  const std::string first = "278117fc144c72340f67d0f2316e8386ceffbf2b2428c9c51fef7c597f1d426e";
  const std::string second = "ec172b93ad5e563f4932c70e1245034c35467ef2efd4d64ebf819683467e2bf4";
  check_refused<Root>(changed(example_of<Root>(), second, first), Fault::text_order, 10);
  const char* threshold = "thresholds 1\nthreshold quality 1\n";
  const char* product = "products 1\nproduct frost-node 0 5\n";
  check_each<TrustList>(
      Fault::text_order,
      {{threshold, "thresholds 2\nthreshold quality 1\nthreshold quality 2\n", 17},
       {product, "products 2\nproduct frost-node 0 5\nproduct frost-node 0 6\n", 19}});
  check_each<format::CardIndex>(Fault::text_order,
                                {{"\"README.TXT\"", "\"ALLOT/A0000012.SIG\"", 13}});
}

TEST_CASE("a text that stops early or goes on is refused at the line where it should end",
          "[check-110]") {
  const std::string root = example_of<Root>();
  check_refused<Root>(root + "\n", Fault::text_end, 12);
  check_refused<Root>(root + "previous -\n", Fault::text_end, 12);
  check_refused<Root>(root + "x", Fault::text_end, 12);
  check_refused<Root>(root + std::string(1, '\0'), Fault::text_end, 12);
  check_refused<Root>(changed(root, "previous -\n", ""), Fault::text_end, 11);
  check_refused<Root>("cardseal-root 1\n", Fault::text_end, 2);
}

TEST_CASE("lines that do not fit each other are refused", "[check-111]") {
  check_each<Root>(Fault::text_reference, {{" t-tarn\nprevious", " x-nobody\nprevious", 10},
                                           {"version 1\n", "version 2\n", 11},
                                           {"threshold 2\n", "threshold 3\n", 11}});
  const std::string digest = "sha256:" + std::string(64, '0');
  check_refused<Root>(changed(example_of<Root>(), "previous -", "previous " + digest),
                      Fault::text_reference, 11);
  check_each<TrustList>(Fault::text_reference, {{" j-moor quality", " x-moor quality", 12}});
  check_each<Manifest>(Fault::text_reference,
                       {{"supply station 3300", "supply board 3300", 18},
                        {"supply station 3300", "supply station 2999", 18},
                        {"supply station 3300", "supply station 3501", 18},
                        {"low-high 3000 3500", "low-high 3300 3300", 18},
                        {"low-high 3000 3500", "low-high -", 18},
                        {"low-high 3000 3500", "nominal 3000 3500", 18},
                        {"low-high 3000 3500", "none 3000 3500", 18},
                        {"alphabet -", "alphabet \"0123456789\"", 24},
                        {"alphabet -", "alphabet \"010\"", 24},
                        {"CRC-16/XMODEM", "CRC-16/XMODEM-2", 25},
                        {"excluded 1\nexcluded-range 130000 139999",
                         "excluded 2\nexcluded-range 1 5\nexcluded-range 6 7", 28},
                        {"excluded 1\nexcluded-range 130000 139999",
                         "excluded 2\nexcluded-range 1 5\nexcluded-range 5 7", 28},
                        {"part 1 literal \"FN-\" - - -", "part 1 literal \"FN-\" - 6 -", 33},
                        {"part 1 literal \"FN-\" - - -", "part 1 literal - - - -", 33},
                        {"part 1 literal \"FN-\" - - -", "part 1 number \"FN-\" - - -", 33},
                        {"part 2 date-code - - 4 -", "part 2 date-code - - 17 -", 33},
                        {"part 3 class \"EPNRS\"", "part 3 class \"EPNR\"", 33},
                        {"part 3 class \"EPNRS\"", "part 3 class \"EPNRE\"", 33},
                        {"part 4 number - 10 6 -", "part 4 number - - 6 -", 33},
                        {"part 4 number - 10 6 -", "part 4 number - 16 6 -", 33},
                        {"part 5 check - - - luhn 4", "part 6 check - - - luhn 4", 33},
                        {"part 5 check - - - luhn 4", "part 5 check - - - luhn 5", 33},
                        {"part 5 check - - - luhn 4", "part 5 check - - - luhn 3", 33},
                        {"ascii 1 5 20", "ascii - 20", 36},
                        {"binary-le -", "binary-le 1 5", 36},
                        {"part 4 number - 10 6 -", "part 4 date-code - - 6 -", 36},
                        {"scheme frost-serial 100000 1 890000", "scheme -", 36}});
  check_each<Allotment>(
      Fault::text_reference,
      {{"scheme frost-serial", "scheme -", 19},
       {"count 200", "count 0", 19},
       {"numbers new", "numbers kept", 13},
       {"numbers new\nspans 0", "numbers new\nspans 1\nspan 400 599", 14},
       {"numbers new\nspans 0", "numbers kept\nspans 1\nspan 401 600", 14},
       {"numbers new\nspans 0", "numbers stated\nspans 1\nspan 400 598", 14},
       {"numbers new\nspans 0", "numbers kept\nspans 2\nspan 400 499\nspan 500 599", 15}});
  check_each<format::Withdrawal>(Fault::text_reference, {{"allotment -",
                                                          "allotment sha256:"
                                                          "00000000000000000000000000000000"
                                                          "00000000000000000000000000000000",
                                                          5}});
}
