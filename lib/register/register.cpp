#include "register/register.h"

#include <algorithm>
#include <cerrno>

#include <fmt/format.h>

#include "io/clock.h"
#include "register/head_file.h"
#include "register/ledger.h"
#include "register/schema.h"

namespace cardseal::registry {
namespace {

constexpr std::uint64_t most_enrolments = 999'999;

Error with_file(Error error, const io::Path& path) {
  return at(std::move(error), path.string());
}

// The history is the same before and after; a program of the older layout refuses it from now on.
Try<void> take_over(Database& database) {
  REG_TRY(transaction, Transaction::begin(database));
  REG_TRY(version, database.number("PRAGMA user_version"));
  if (version == schema_version) { // another process was quicker
    return {};
  }
  if (version < 5) {
    REG_DO(database.execute(layout_5_sql));
  }
  REG_DO(database.execute(layout_6_sql));
  const std::string mark = fmt::format("PRAGMA user_version={};", schema_version);
  REG_DO(database.execute(mark.c_str()));
  return transaction.commit();
}

Try<void> check_form(Database& database) {
  REG_TRY(id, database.number("PRAGMA application_id"));
  if (id != application_id) {
    return Unexpected(
        with_file(error_of(ErrorKind::bad_data, "register-form", "this file is no register",
                           fmt::format("mark {:x}", id), fmt::format("mark {:x}", application_id),
                           "name the register's file"),
                  database.path()));
  }
  REG_TRY(version, database.number("PRAGMA user_version"));
  if (version < oldest_taken_over || version > schema_version) {
    return Unexpected(with_file(
        error_of(ErrorKind::bad_data, "register-version",
                 "this register was made by another version", fmt::format("version {}", version),
                 fmt::format("version {} to {}", oldest_taken_over, schema_version),
                 version < schema_version
                     ? "an older cardseal made it: finish its lots with that one, and start a new "
                       "register with windows of its own"
                     : "use the newest cardseal that this desk has used"),
        database.path()));
  }
  return version == schema_version ? Try<void>() : take_over(database);
}

Try<void> fill_new(const io::Path& path, const format::Digest& owner) {
  REG_TRY(database, Database::open(path, Access::create, default_busy_ms));
  REG_TRY(transaction, Transaction::begin(database));
  REG_DO(database.execute(schema_sql));
  REG_DO(database.execute(layout_5_sql));
  REG_DO(database.execute(layout_6_sql));
  const std::string marks = fmt::format("PRAGMA application_id={}; PRAGMA user_version={};",
                                        application_id, schema_version);
  REG_DO(database.execute(marks.c_str()));
  Head head;
  REG_DO(append(database, head, owner_body(1, owner)));
  REG_TRY(insert, database.query("INSERT INTO owner(one, digest, entry) VALUES(1, ?, ?)"));
  REG_DO(insert.bind(owner).bind(head.entries).run());
  return transaction.commit();
}

Try<io::Path> new_name(const io::Path& path) {
  std::array<std::uint8_t, 6> random{};
  REG_DO(io::fill_random(random));
  return io::Path(path.string() + ".new-" + crypto::hex(random));
}

} // namespace

// Under another name until it is whole.
Try<Register> Register::create(io::System& system, const io::Path& path,
                               const format::Digest& owner) {
  if (system.stat(path)) {
    return Unexpected(io::error_from(io::Errno{EEXIST}, path, "create"));
  }
  REG_TRY(temporary, new_name(path));
  Try<void> filled = fill_new(temporary, owner);
  if (!filled) {
    (void)system.remove(temporary);
    Error error = std::move(filled).error();
    error.kind = error.code == "register-missing" ? ErrorKind::no_create : error.kind;
    error.hint =
        error.code == "register-missing" ? "name a folder that can be written" : error.hint;
    return Unexpected(with_file(std::move(error), path));
  }
  if (io::Sys<void> named = system.rename(temporary, path, false); !named) {
    (void)system.remove(temporary);
    return Unexpected(io::error_from(named.error(), path, "create"));
  }
  const io::Path folder = path.has_parent_path() ? path.parent_path() : io::Path(".");
  if (io::Sys<void> synced = system.sync_folder(folder); !synced) {
    return Unexpected(io::error_from(synced.error(), path, "create"));
  }
  REG_TRY(made, open(system, path, owner));
  REG_TRY(head, made.head());
  REG_DO(write_head(system, head_path(path), head));
  return std::move(made);
}

Try<Register> Register::open(io::System& system, const io::Path& path,
                             const std::optional<format::Digest>& owner, std::uint32_t busy_ms) {
  REG_TRY(database, Database::open(path, Access::existing, busy_ms));
  REG_DO(check_form(database));
  Register opened(system, std::move(database));
  if (owner) {
    REG_TRY(own, opened.owner());
    if (own != *owner) {
      return Unexpected(with_file(
          error_of(ErrorKind::config, "register-owner", "this register is another owner's",
                   crypto::spell_digest(own), crypto::spell_digest(*owner),
                   "name your own register, or the root that belongs to it"),
          path));
    }
  }
  return opened;
}

Try<std::string> Register::why_older(const Head& head) {
  REG_TRY(kept, read_head(*system_, head_path(database_.path())));
  if (!kept) {
    // A register that was just made and not used yet may have lost its maker.
    return std::string(
        head.entries <= 1 ? "" : "the file beside it that names its newest entry is missing");
  }
  REG_TRY(query, database_.query("SELECT digest FROM entry WHERE number = ?"));
  REG_TRY(row, query.bind(kept->entries).next());
  format::Digest digest{};
  if (row && query.bytes_into(0, digest) && digest == kept->digest) {
    return std::string();
  }
  return fmt::format("{} entries, without entry {} that was made here", head.entries,
                     kept->entries);
}

Try<Register::Step> Register::begin() {
  REG_TRY(transaction, Transaction::begin(database_));
  REG_TRY(head, head_of(database_));
  REG_TRY(why, why_older(head));
  if (!why.empty()) {
    Error error =
        refused("register-older", "this register is an older copy, or a copy by itself", why,
                "the register that gave numbers last, with the file " +
                    head_path(database_.path()).filename().string() + " beside it",
                "bring both back, or give this one's windows up: cardseal serial meet, with every "
                "card made since");
    return Unexpected(with_file(std::move(error), database_.path()));
  }
  return Step{std::move(transaction), head};
}

// The lock is taken once more, so that the file never goes back when several processes write it.
Try<void> Register::finish(Step& step) {
  REG_DO(step.transaction.commit());
  REG_TRY(again, Transaction::begin(database_));
  (void)again;
  REG_TRY(head, head_of(database_));
  return write_head(*system_, head_path(database_.path()), head);
}

Try<std::size_t> Register::add_windows(const std::vector<format::Window>& windows) {
  REG_TRY(step, begin());
  REG_TRY(added, registry::add_windows(database_, step.head, windows));
  REG_DO(finish(step));
  return added;
}

Try<Enrolled> Register::enrol(const Enrol& enrol) {
  REG_TRY(step, begin());
  Try<Enrolled> known = station_now(database_, enrol.station);
  if (!known && known.error().code != "station-unknown") {
    return Unexpected(std::move(known).error());
  }
  if (known.has_value() != enrol.again) {
    return Unexpected(
        known ? refused("station-enrolled", "this station is enrolled already",
                        fmt::format("enrolment {}", known->enrolment), "a new station",
                        "when its memory was lost, enrol it with --again: what its cards have left "
                        "is then spent")
              : std::move(known).error());
  }
  const std::uint64_t least = known ? std::uint64_t{known->enrolment} + 1 : 1;
  const std::uint64_t number = enrol.enrolment.value_or(static_cast<std::uint32_t>(least));
  if (number < least || number > most_enrolments) {
    return Unexpected(least > most_enrolments
                          ? refused("station-enrolled", "this station can't be enrolled any more",
                                    fmt::format("enrolment {} before", least - 1), "at most 999999",
                                    "give the station another id")
                          : refused("station-enrolled",
                                    "this enrolment was used before, or can't be",
                                    std::to_string(number), fmt::format("{} to 999999", least),
                                    "leave --enrolment out"));
  }
  const std::uint64_t serial =
      std::max(enrol.next_serial, known ? known->next_serial : std::uint64_t{1});
  REG_DO(check_serial(enrol.station, serial));
  REG_DO(insert_enrolment(database_, step.head, enrol.station, number, serial));
  REG_DO(finish(step));
  return Enrolled{enrol.station, static_cast<std::uint32_t>(number), serial};
}

Try<Head> Register::head() {
  return head_of(database_);
}

Try<format::Digest> Register::owner() {
  REG_TRY(query, database_.query("SELECT digest FROM owner"));
  REG_TRY(row, query.next());
  format::Digest owner{};
  if (!row || !query.bytes_into(0, owner)) {
    return Unexpected(with_file(
        refused("register-form", "this register names no owner", "", "", ""), database_.path()));
  }
  return owner;
}

} // namespace cardseal::registry
