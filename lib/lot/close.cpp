#include "lot/close.h"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::lot {
namespace {

Try<void> check_closable(const Account& account) {
  if (account.closed()) {
    return Unexpected(refused("lot-closed", "this lot is closed already", account.work_order,
                              "a lot that is open", "cardseal lot show says how it stood"));
  }
  if (account.merged) {
    return Unexpected(refused("lot-merged", "this order was merged into another one",
                              fmt::format("{}, into {}", account.work_order, account.merged->whole),
                              "the order that counts it",
                              fmt::format("close {}", account.counted_in)));
  }
  const auto blocking = std::count_if(account.points.begin(), account.points.end(),
                                      [](const Point& point) { return point.blocking; });
  if (blocking != 0) {
    return Unexpected(refused(
        "lot-open", "this lot can't be closed while something is open",
        fmt::format("{} open; the first: {}", blocking, account.points.front().text),
        "nothing open",
        "cardseal lot show lists them; cardseal card note, reconcile and lot settle end them"));
  }
  return {};
}

format::CardEnd end_of(Standing standing) {
  switch (standing) {
  case Standing::not_made:
    return format::CardEnd::not_made;
  case Standing::destroyed:
    return format::CardEnd::destroyed;
  case Standing::lost:
    return format::CardEnd::lost;
  default: // nothing else is left when nothing is open
    return format::CardEnd::counted;
  }
}

// A list of a sealed text that is full.
Error too_many(const char* what, std::size_t most) {
  return refused("lot-size", fmt::format("this lot has more {} than one closure holds", what), "",
                 fmt::format("at most {}", most), "split the lot into several work orders");
}

Try<void> put_manifests(const Closing& closing, format::Close& text) {
  std::set<format::Digest> manifests;
  for (const CardAccount& card : closing.account.cards) {
    manifests.insert(card.row.manifest);
  }
  for (const format::Digest& manifest : manifests) {
    const bool given = std::any_of(
        closing.packages.begin(), closing.packages.end(),
        [&](const package::Package& package) { return package.manifest_digest == manifest; });
    if (!given) {
      return Unexpected(refused("package-missing",
                                "a package that this lot was made from is "
                                "not named",
                                "", crypto::spell_digest(manifest), "name it with --package"));
    }
    if (!text.manifests.add(manifest)) {
      return Unexpected(too_many("packages", text.manifests.capacity()));
    }
  }
  return {};
}

Try<void> put_cards(const Account& account, format::Close& text) {
  std::map<format::CardId, format::ClosedCard> cards; // ascending; one may carry several packages
  for (const CardAccount& card : account.cards) {
    format::ClosedCard& closed = cards.try_emplace(card.row.card).first->second;
    const bool fresh = closed.station.view().empty();
    closed.card = card.row.card;
    (void)closed.station.set(card.row.station); // was an id when it was given
    closed.end = end_of(card.standing);
    closed.units = (fresh ? 0 : closed.units) + static_cast<std::uint32_t>(card.row.units);
    closed.good += static_cast<std::uint32_t>(card.counts.good);
  }
  for (const auto& [id, card] : cards) {
    if (!text.cards.add(card)) {
      return Unexpected(too_many("cards", text.cards.capacity()));
    }
  }
  return {};
}

// Used by every board on a card of the package, in whatever lot.
Try<void> put_deviations(registry::Register& numbers, const Closing& closing, format::Close& text) {
  std::map<format::Digest, std::uint64_t> boards;
  Try<void> counted = numbers.each_allotment(
      [&](const registry::AllotmentRow& row) { boards[row.manifest] += row.units; });
  if (!counted) {
    return counted;
  }
  std::map<std::string, format::DeviationUse> uses; // ascending by number
  std::set<format::Digest> looked_at;
  const auto used = text.manifests.view();
  for (const package::Package& package : closing.packages) {
    const bool own = std::find(used.begin(), used.end(), package.manifest_digest) != used.end();
    if (!own || !looked_at.insert(package.manifest_digest).second) {
      continue; // not of this lot, or named twice
    }
    for (const format::Deviation& deviation : package.facts.deviations.view()) {
      format::DeviationUse& use = uses[std::string(deviation.number.view())];
      use.number = deviation.number;
      use.boards += static_cast<std::uint32_t>(boards[package.manifest_digest]);
      use.allowed = deviation.boards;
    }
  }
  for (const auto& [number, use] : uses) {
    if (!text.deviations.add(use)) {
      return Unexpected(too_many("deviations", text.deviations.capacity()));
    }
  }
  return {};
}

// Cards whose labels the register knows are counted there; what was counted by hand is of the
// others.
Try<void> check_by_hand(const Account& account, const format::Labels& labels) {
  std::uint64_t boards = 0;
  bool any = false;
  for (const CardAccount& card : account.cards) {
    any = any || !card.labels;
    boards += card.labels ? 0 : account.shippable(card);
  }
  if (!any) {
    return Unexpected(refused("labels-counted", "the register has each label of this lot",
                              fmt::format("{} printed, counted by hand", labels.printed),
                              "no count by hand", "leave --labels out"));
  }
  if (std::uint64_t{labels.applied} + labels.scrapped != labels.printed) {
    return Unexpected(
        refused("labels-sum", "the labels don't add up",
                fmt::format("{} printed, {} applied, {} scrapped", labels.printed, labels.applied,
                            labels.scrapped),
                "applied and scrapped make up those printed",
                "look for the labels that are missing: each one can name a second board"));
  }
  if (labels.applied != boards) {
    return Unexpected(
        refused("labels-boards", "the labels applied are not the boards that can ship",
                fmt::format("{} applied", labels.applied),
                fmt::format("{} boards of cards whose labels were not scanned", boards),
                "a label on a board that will not ship is scrapped with it"));
  }
  return {};
}

// Nothing is open in the register's, or the lot were not closable.
Try<void> put_labels(const Closing& closing, format::Close& text) {
  format::Labels sum;
  bool any = closing.labels.present;
  if (closing.labels.present) {
    if (Try<void> fits = check_by_hand(closing.account, closing.labels.value); !fits) {
      return fits;
    }
    sum = closing.labels.value;
  }
  for (const CardAccount& card : closing.account.cards) {
    if (card.labels) {
      any = true;
      sum.printed += static_cast<std::uint32_t>(card.labels->printed);
      sum.applied += static_cast<std::uint32_t>(card.labels->applied);
      sum.scrapped += static_cast<std::uint32_t>(card.labels->scrapped);
    }
  }
  if (any) {
    text.labels.set(sum);
  }
  return {};
}

Try<void> put_points(const Closing& closing, format::Close& text) {
  std::set<std::string> points; // ascending, each once
  std::size_t gone = 0;
  for (const Point& point : closing.account.points) {
    gone += point.code == "card-gone" ? 1U : 0U;
    if (point.code != "card-gone") {
      points.insert(point.text);
    }
  }
  if (gone != 0) { // which they are, their lines say
    points.insert(fmt::format("cards lost or destroyed before they were counted: {}; {} units of "
                              "theirs unknown",
                              gone, closing.account.units.unknown));
  }
  const auto stated = [&](const CardAccount& card) {
    return card.labels || closing.labels.present;
  };
  const auto silent = std::count_if(closing.account.cards.begin(), closing.account.cards.end(),
                                    [&](const CardAccount& card) { return !stated(card); });
  if (static_cast<std::size_t>(silent) == closing.account.cards.size()) {
    points.insert("of labels nothing was stated");
  } else if (silent != 0) {
    points.insert(fmt::format("of the labels of {} cards nothing was stated", silent));
  }
  for (const std::string& point : points) {
    format::Text<160> words;
    (void)words.set(slice(point, 0, words.bytes.size())); // no more than a name of 24 varies
    if (!text.points.add(words)) {
      return Unexpected(too_many("points to know", text.points.capacity()));
    }
  }
  return {};
}

} // namespace

Try<format::Close> close_text(registry::Register& numbers, const Closing& closing) {
  const Account& account = closing.account;
  format::Close text;
  Try<void> step = check_closable(account);
  step = step ? put_labels(closing, text) : std::move(step);
  step = step ? put_manifests(closing, text) : std::move(step);
  step = step ? put_cards(account, text) : std::move(step);
  step = step ? put_deviations(numbers, closing, text) : std::move(step);
  step = step ? put_points(closing, text) : std::move(step);
  if (!step) {
    return Unexpected(std::move(step).error());
  }
  (void)text.work_order.set(account.work_order); // every card was sealed with it
  for (std::size_t i = 0; i < format::work_class_words.size(); ++i) {
    if (format::work_class_words[i] == account.work_class()) {
      text.work_class = static_cast<format::WorkClass>(i);
    }
  }
  text.ordered = static_cast<std::uint32_t>(std::max<std::uint64_t>(account.ordered, 1));
  text.issued = account.issued;
  text.units = account.units;
  text.register_entry = closing.head.entries;
  text.register_head = closing.head.digest;
  return text;
}

} // namespace cardseal::lot
