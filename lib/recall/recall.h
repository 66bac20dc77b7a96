// Which units are concerned, which may be, and which are not: every unit of every card that the
// registers gave out stands in exactly one of three lists, with its reason. What is not known never
// clears a unit: a package that was not given, a log that is missing or has gaps, a word that
// nobody entered.
//
// A board that was programmed again under another number is told under that one no better than
// under the old one.
//
// Run logs and what was entered at stations are claims: they show accidents, not forgers.
//
// A log alone may be a copy from the middle of a day, so it clears what it has as good, which no
// station begins again; and the rest of its card only when the register has the card as returned,
// with results that were kept after that and are the log's.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "package/package.h"
#include "recall/condition.h"
#include "register/register.h"
#include "runlog/log_file.h"

namespace cardseal::recall {

enum class List : std::uint8_t { affected, possibly, cleared };
inline constexpr std::array<std::string_view, 3> list_words{"affected", "possibly", "cleared"};

// A board of an allotment that got another number.
struct Renumbered {
  std::uint64_t unit = 0;    // 0: the allotment's first
  std::size_t now_given = 0; // index into `Question::given`
  std::uint64_t now_unit = 0;
};

// An allotment with what its register knows of its units.
struct Given {
  registry::AllotmentRow row;
  std::optional<registry::Results> results; // none: nothing was reported
  std::vector<Renumbered> renumbered = {};
  std::vector<std::string> merged_into = {}; // the orders that count its own
};

// Units of one allotment that follow one another, in one list for one reason.
struct Span {
  std::size_t given = 0;   // index into `Question::given`
  std::uint64_t first = 0; // 0: the allotment's first unit
  std::uint64_t count = 0;
  List list = List::cleared;
  std::string reason;
};

struct Question {
  std::vector<Condition> where; // all of them
  std::vector<Given> given;
  std::vector<const package::Package*> packages;
  std::vector<runlog::LogFile> logs; // of any cards, several of one too
};

struct Answer {
  std::vector<Span> spans; // by allotment, then by unit
  std::array<std::uint64_t, list_words.size()> units{};
  // Among these: other numbers or other runs of boards that are told in the same list or a worse
  // one.
  std::array<std::uint64_t, list_words.size()> told_twice{};
};

// All allotments of a register, with their results.
Try<std::vector<Given>> given_by(registry::Register& numbers);
// Those of one more register.
void add_given(std::vector<Given>& all, std::vector<Given> more);

// Whether a condition that rows alone decide holds for no allotment: most likely it is mistyped.
bool is_of_nothing(const std::vector<Given>& given, const Condition& condition);

Answer recall(const Question& question);

} // namespace cardseal::recall
