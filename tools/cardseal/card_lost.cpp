// A card is lost: what was sealed for it is stopped, and the register has both in one step. The
// register is first, so that a cut leaves spent numbers and a stop that can be written again, never
// a stop of a card that is still held for good.
#include "card_lost.h"

#include <fmt/format.h>

#include "card_name.h"
#include "card_outputs.h"
#include "crypto/sha256.h"
#include "elsewhere.h"
#include "register/register.h"
#include "seal/withdrawal.h"
#include "trust_parts.h"

namespace cardseal::tool {
namespace {

struct Drafted { // a withdrawal of one allotment, but for its signature
  std::uint64_t allotment = 0;
  io::Bytes text;

  ToSign to_sign() const {
    return {format::Withdrawal::kind, text, "withdrawal",
            "options, --time, trust list and register"};
  }
};

struct Lost {
  format::CardId card{};
  Utc time;
  std::vector<registry::AllotmentRow> rows; // those that were sealed
  std::vector<Drafted> drafts;              // in the same order
};

// One file of several is name-01.stop.
std::string file_of(const std::string& name, std::size_t index, std::size_t files) {
  if (name.empty() || files == 1) {
    return name;
  }
  const io::Path path(name);
  return (path.parent_path() /
          fmt::format("{}-{:02}{}", path.stem().string(), index + 1, path.extension().string()))
      .string();
}

Elsewhere elsewhere_of(const Elsewhere& all, std::size_t index, std::size_t files) {
  return {all.public_key, file_of(all.signed_bytes, index, files),
          file_of(all.attach, index, files)};
}

Try<void> check_outputs(const CardLostOptions& options, std::size_t files) {
  for (std::size_t i = 0; i < files; ++i) {
    TRY_VOID(check_output(io::real_system(), file_of(options.output, i, files), options.registered,
                          false));
  }
  return {};
}

Try<Lost> draft(const CardLostOptions& options, const format::CardId& card, const Owner& owner,
                const format::Key& key, registry::Register& numbers) {
  Lost lost;
  lost.card = card;
  format::Withdrawal withdrawal;
  withdrawal.owner = owner.root.owner;
  TRY(person, seal::stopping_person(owner.trust, key,
                                    options.key.file.empty() ? options.elsewhere.public_key
                                                             : options.key.file));
  TRY(reason, to_text<96>(options.reason, "the reason"));
  TRY(time, time_or_now(options.time));
  withdrawal.person = person;
  withdrawal.reason = reason;
  withdrawal.time = time;
  lost.time = time;
  TRY(rows, numbers.allotments_on(card));
  for (registry::AllotmentRow& row : rows) {
    if (!row.sealed_text) {
      continue; // nobody can work with it
    }
    withdrawal.allotment.set(*row.sealed_text);
    TRY(text, seal::spell(withdrawal));
    lost.drafts.push_back({row.id, std::move(text)});
    lost.rows.push_back(std::move(row));
  }
  return lost;
}

void show(const CardLostOptions& options, const Lost& lost) {
  say(fmt::format("lost        card {}", crypto::hex(lost.card)));
  for (const registry::AllotmentRow& row : lost.rows) {
    say(fmt::format("stops       allotment {} of {}, work order {}", row.serial, row.station,
                    escaped(row.work_order)));
    say(fmt::format("spent       {}{} units, {} of them reported as begun",
                    row.range.count == 0
                        ? ""
                        : fmt::format("ordinals {} to {}: ", row.range.first, row.range.past() - 1),
                    row.units, row.begun));
  }
  say(fmt::format("reason      {}", escaped(options.reason)));
  note("for good: no station that met it takes it back, also when the card turns up");
}

registry::FateNote note_of(const CardLostOptions& options) {
  return {registry::Fate::lost, options.by, options.note};
}

std::vector<registry::Stop> stops_of(const Lost& lost) {
  std::vector<registry::Stop> stops;
  stops.reserve(lost.drafts.size());
  for (const Drafted& draft : lost.drafts) {
    stops.push_back({draft.allotment, draft.text, {}, ""});
  }
  return stops;
}

Ran write_stops(const CardLostOptions& options, const std::vector<registry::Stop>& stops) {
  for (std::size_t i = 0; i < stops.size(); ++i) {
    const std::string file = file_of(options.output, i, stops.size());
    crypto::Signature signature{};
    std::copy(stops[i].signature.begin(), stops[i].signature.end(), signature.begin());
    TRY_VOID(seal::write_signed(io::real_system(), file, {stops[i].text, {signature}},
                                io::IfExists::refuse));
    say(fmt::format("withdrawal  {}", file));
  }
  note(
      fmt::format("next: --withdrawal {} with the next cards of card make or lot cards, and put it "
                  "on the trust list as well: cardseal trust withdraw",
                  file_of(options.output, 0, stops.size())));
  return 0;
}

// The register first: what it has can be written again.
Ran keep_and_write(const CardLostOptions& options, const Lost& lost, registry::Register& numbers,
                   const std::vector<registry::Stop>& stops) {
  TRY_VOID(numbers.note_lost(lost.card, note_of(options), stops));
  say(fmt::format("noted       card {}: lost, by {}", crypto::hex(lost.card), escaped(options.by)));
  Ran written = write_stops(options, stops);
  if (!written) {
    note("the register has the stop: run the same command again, without a key, to write it");
  }
  return written;
}

std::string confirm_name(const format::CardId& card) {
  return fmt::format("lost card {}", crypto::hex(card).substr(0, 8));
}

Ran sign_here(const CardLostOptions& options, const format::CardId& card, const Owner& owner,
              registry::Register& numbers) {
  TRY(key, open_key(options.key));
  TRY(lost, draft(options, card, owner, key.public_key(), numbers));
  std::vector<registry::Stop> stops = stops_of(lost);
  TRY_VOID(numbers.note_lost(card, note_of(options), stops, true)); // before anything is signed
  show(options, lost);
  TRY_VOID(check_outputs(options, stops.size()));
  TRY_VOID(confirm(confirm_name(card), options.confirm));
  for (registry::Stop& stop : stops) {
    stop.signature = seal::sign(key, format::Withdrawal::kind, stop.text);
  }
  return keep_and_write(options, lost, numbers, stops);
}

Ran sign_elsewhere(const CardLostOptions& options, const format::CardId& card, const Owner& owner,
                   registry::Register& numbers, Way way) {
  if (way == Way::attach && options.time.empty()) {
    return Unexpected(time_missing());
  }
  TRY(key, crypto::read_public_key_file(io::real_system(), options.elsewhere.public_key));
  TRY(lost, draft(options, card, owner, key, numbers));
  std::vector<registry::Stop> stops = stops_of(lost);
  TRY_VOID(numbers.note_lost(card, note_of(options), stops, true));
  show(options, lost);
  const std::size_t files = stops.size();
  if (way == Way::attach) {
    TRY_VOID(check_outputs(options, files));
    for (std::size_t i = 0; i < files; ++i) {
      TRY(signature,
          read_attached(elsewhere_of(options.elsewhere, i, files), key, lost.drafts[i].to_sign()));
      stops[i].signature = signature;
    }
    return keep_and_write(options, lost, numbers, stops);
  }
  TRY_VOID(confirm(confirm_name(card), options.confirm));
  for (std::size_t i = 0; i < files; ++i) {
    TRY_VOID(
        write_signed_bytes(elsewhere_of(options.elsewhere, i, files), lost.drafts[i].to_sign()));
  }
  note(fmt::format("next: sign each of these (Ed25519, 64 raw bytes), then give the same options "
                   "with --attach SIGNATURE for --signed-bytes, named alike, and --time {}; the "
                   "register holds nothing of it yet",
                   words(lost.time)));
  return 0;
}

} // namespace

Ran run_card_lost(const CardLostOptions& options) {
  TRY(card, card_id_of(options.card));
  TRY(owner, read_owner(options.root, options.trust));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, owner.root.owner));
  TRY(kept, numbers.stops_of(card));
  if (!kept.empty()) { // a run that died, or a file that is gone
    TRY_VOID(check_outputs(options, kept.size()));
    note(fmt::format("the register has card {} as lost and stopped, {} (claimed); what was signed "
                     "then is written again",
                     crypto::hex(card), kept.front().time));
    return write_stops(options, kept);
  }
  TRY(way, way_of(options.key, options.elsewhere));
  return way == Way::here ? sign_here(options, card, owner, numbers)
                          : sign_elsewhere(options, card, owner, numbers, way);
}

} // namespace cardseal::tool
