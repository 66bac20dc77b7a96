// Check characters against values that others published, the source beside each.
#include <string>

#include "support/catch.h"
#include "unit/check.h"

using namespace cardseal;
using format::CheckKind;

namespace {

std::string check_of(CheckKind kind, const std::string& text) {
  std::array<char, 2> out{};
  return unit::check_characters(kind, text, out)
             ? std::string(out.data(), format::check_length(kind))
             : "refused";
}

} // namespace

TEST_CASE("every check character is the one that was published for the text") {
  struct Published {
    CheckKind kind;
    const char* text;
    const char* check;
  };
  const Published published[] = {
      // The usual worked example of the Luhn formula (ISO/IEC 7812-1, annex B); from memory.
      {CheckKind::luhn, "7992739871", "3"},
      // A worked example of the same formula: 5y1.org, "IBM Mod 10 and 11 check digits", base
      // 61248.
      {CheckKind::luhn, "61248", "1"},
      // docs.rs/iso-7064, page of the crate.
      {CheckKind::mod_11_2, "079", "X"},
      // ORCID iDs carry MOD 11-2: the example of support.orcid.org, "Structure of the ORCID
      // Identifier", 0000-0002-1825-0097; from memory.
      {CheckKind::mod_11_2, "000000021825009", "7"},
      // transfusionguidelines.org, Red Book, annex 2, table A2.2: worked step by step.
      {CheckKind::mod_37_2, "G123498654321", "H"},
      // ISO/IEC 7064, simplified procedure for MOD 97-10: 794 gives 44; from memory.
      {CheckKind::mod_97_10, "794", "44"},
      // docs.rs/iso7064: LEI 969500KSV493XWY0PS33, its letters as numbers (ISO 17442: A is 10).
      {CheckKind::mod_97_10, "96950020283149333323402528", "33"},
      // ISO/IEC 7064, MOD 11,10: 0794 gives 5; from memory.
      {CheckKind::mod_11_10, "0794", "5"},
      // python-stdnum 1.18 (Debian), documentation of stdnum.iso7064.mod_11_10: its examples.
      {CheckKind::mod_11_10, "79462", "3"},
      {CheckKind::mod_11_10, "00200667308", "5"},
      // lobster-world.com/online, "checksum ISO 7064 Mod. 37/36()": two rows of its table.
      {CheckKind::mod_37_36, "A12425GABC1234002", "M"},
      {CheckKind::mod_37_36, "123AB", "X"},
      // gs1hk.org, check digit calculator, its worked example for 13 digits.
      {CheckKind::gs1_mod_10, "629104150021", "3"},
      // gs1india.org, "How to calculate the check digit".
      {CheckKind::gs1_mod_10, "890400021003", "7"},
      // packagist.org/packages/sunaoka/damm, example; rosettacode.org, "Damm algorithm".
      {CheckKind::damm, "572", "4"},
      {CheckKind::damm, "11294", "6"},
      // liquisearch.com/verhoeff_algorithm/example: 1428570 worked digit by digit.
      {CheckKind::verhoeff, "142857", "0"},
      // The usual worked example of Verhoeff's check; from memory.
      {CheckKind::verhoeff, "236", "3"},
  };
  for (const Published& each : published) {
    CAPTURE(each.text, each.check);
    CHECK(check_of(each.kind, each.text) == each.check);
  }
}

TEST_CASE("a character that a check does not know is refused") {
  CHECK(check_of(CheckKind::luhn, "12A") == "refused");
  CHECK(check_of(CheckKind::mod_11_2, "07X") == "refused");
  CHECK(check_of(CheckKind::mod_37_2, "G12*") == "refused");
  CHECK(check_of(CheckKind::mod_37_36, "ab") == "refused");
  CHECK(check_of(CheckKind::damm, "1-2") == "refused");
}

// What each is made for. Luhn and GS1 miss some transpositions, by their published rules.
TEST_CASE("a wrong digit changes the check, and so do two that changed places") {
  const CheckKind all_transpositions[] = {CheckKind::mod_11_2, CheckKind::mod_97_10,
                                          CheckKind::mod_37_2, CheckKind::damm,
                                          CheckKind::verhoeff};
  for (const std::string text : {"4711", "000120", "9081726354"}) {
    for (std::size_t i = 0; i < format::check_kind_words.size(); ++i) {
      const auto kind = static_cast<CheckKind>(i);
      for (std::size_t at = 0; at < text.size(); ++at) {
        std::string wrong = text;
        for (char c = '0'; c <= '9'; ++c) {
          wrong[at] = c;
          CHECK((wrong == text) == (check_of(kind, wrong) == check_of(kind, text)));
        }
      }
    }
    for (const CheckKind kind : all_transpositions) {
      for (std::size_t at = 1; at < text.size(); ++at) {
        std::string wrong = text;
        std::swap(wrong[at - 1], wrong[at]);
        CHECK((wrong == text) == (check_of(kind, wrong) == check_of(kind, text)));
      }
    }
  }
}
