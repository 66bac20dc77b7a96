#include "card_writing.h"

#include <algorithm>
#include <cstdio>

#include <unistd.h>

#include <fmt/format.h>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "io/secret.h"
#include "register/register.h"

namespace cardseal::tool {
namespace {

struct Pending {
  std::string image;
  format::CardId card{};
  bool written = false; // in this run, or by the register before
};

Try<void> check_asked_for(const CardWriteOptions& options) {
  if (options.registered.empty()) {
    return Unexpected(usage_error("which card got what is kept in the register", "no --register",
                                  "--register and --by, or one image alone"));
  }
  if (!options.confirm.empty()) {
    return Unexpected(usage_error("each card of a set has an id of its own", "--confirm",
                                  "none: you type each card's id when it is in the reader"));
  }
  if (isatty(STDIN_FILENO) == 0) {
    return Unexpected(usage_error("for several images you are asked for a card each",
                                  "no terminal to ask at",
                                  "a terminal, or one image for a command"));
  }
  return {};
}

Try<format::CardId> id_of(const std::string& file) {
  TRY(opened, io::ReadFile::open(io::real_system(), file));
  fat32::FileSource source(opened);
  return card::read_card_id(source, file);
}

// Whether the register has it on a card already. An error when it can't go on any.
Try<bool> is_on_card(registry::Register& numbers, const Pending& one, const std::string& by) {
  TRY(fates, numbers.fates_of(one.card));
  if (!fates.empty() && fates.back().note.fate == registry::Fate::on_card) {
    say(fmt::format("{}  card {} was written before: {}, by {}; passed over", escaped(one.image),
                    crypto::hex(one.card), fates.back().note.note, fates.back().note.by));
    return true;
  }
  Try<void> may = numbers.note_fate(one.card, {registry::Fate::on_card, by, "asked"}, true);
  if (!may) {
    may.error().place.file = one.image;
    return Unexpected(std::move(may).error());
  }
  return false;
}

// All of it before the first card, so that a set does not stop half way for what could be known.
Try<std::vector<Pending>> look_at_images(const CardWriteOptions& options) {
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  std::vector<Pending> set;
  for (std::size_t i = 0; i + 1 < options.words.size(); ++i) {
    Pending one{options.words[i], {}, false};
    TRY(card, id_of(one.image));
    one.card = card;
    const auto twin = std::find_if(set.begin(), set.end(),
                                   [&](const Pending& each) { return each.card == one.card; });
    if (twin != set.end()) {
      return Unexpected(usage_error("two of these images are one card",
                                    twin->image + " and " + one.image, "each image once"));
    }
    TRY_VOID(verify_image(options, one.image));
    TRY(written, is_on_card(numbers, one, options.by));
    one.written = written;
    set.push_back(std::move(one));
  }
  return set;
}

// With all that was said before, wherever that goes: people decide by it.
Try<std::string> asked(const char* question) {
  (void)std::fflush(stdout);
  return io::ask(io::real_system(), question);
}

enum class Answer : std::uint8_t { go_on, leave_out, stop };

Try<Answer> ask_for_card(const Pending& one, std::size_t number, std::size_t of) {
  say(fmt::format("\n{} of {}      {}  card {}", number, of, escaped(one.image),
                  crypto::hex(one.card)));
  TRY(line, asked("put the card for it into the reader, then Enter (s leaves it out, q stops): "));
  return line == "q" ? Answer::stop : line == "s" ? Answer::leave_out : Answer::go_on;
}

// One that was just written is still in the reader.
Try<void> check_other_card(const std::vector<Pending>& set, const std::string& device) {
  const Try<format::CardId> there = id_of(device);
  const auto same = std::find_if(set.begin(), set.end(), [&](const Pending& each) {
    return there && each.written && each.card == *there;
  });
  if (same == set.end()) {
    return {};
  }
  return Unexpected(
      at(refused("card-of-this-set", "the card in the reader has an image of this set already",
                 fmt::format("{}, card {}", same->image, crypto::hex(same->card)), "another card",
                 "take it out, stick its label on, and put the next one in"),
         device));
}

Try<void> confirm_typed(const io::DeviceFacts& device) {
  TRY(line, asked("everything on this device will be lost; to go on type its id as above: "));
  if (line == device.id) {
    return {};
  }
  return Unexpected(at(refused("not-confirmed", "what was typed is not the device's id", line,
                               device.id, "nothing was written"),
                       device.path));
}

// Until the image is on a card, is left out, or somebody stops. What goes wrong before the first
// byte is said and asked for again; what goes wrong later ends the run.
Try<Answer> write_pending(const CardWriteOptions& options, std::vector<Pending>& set,
                          std::size_t index) {
  const std::string& device = options.words.back();
  for (;;) {
    TRY(answer, ask_for_card(set[index], index + 1, set.size()));
    if (answer != Answer::go_on) {
      return answer;
    }
    bool begun = false;
    Try<void> done = check_other_card(set, device);
    done = done ? write_one_card(options, {set[index].image, device}, confirm_typed, begun)
                : std::move(done);
    if (done) {
      set[index].written = true;
      return Answer::go_on;
    }
    if (begun) {
      return Unexpected(std::move(done).error());
    }
    note(describe(done.error()));
  }
}

int sum_up(const std::vector<Pending>& set) {
  say("");
  bool all = true;
  for (const Pending& one : set) {
    say(fmt::format("{:<10} {}  card {}", one.written ? "written" : "left", escaped(one.image),
                    crypto::hex(one.card)));
    all = all && one.written;
  }
  if (!all) {
    note("the same command goes on with what is left: the register passes over what is written");
  }
  return all ? 0 : 1;
}

} // namespace

Ran run_card_write_set(const CardWriteOptions& options) {
  TRY_VOID(check_asked_for(options));
  TRY(set, look_at_images(options));
  for (std::size_t i = 0; i < set.size(); ++i) {
    if (set[i].written) {
      continue;
    }
    Try<Answer> answer = write_pending(options, set, i);
    if (!answer) {
      (void)sum_up(set);
      return Unexpected(std::move(answer).error());
    }
    if (*answer == Answer::stop) {
      break;
    }
  }
  return sum_up(set);
}

} // namespace cardseal::tool
