// The one contact with SQLite: a database file, statements prepared once, transactions, and its
// errors as ours. Everything else of this module speaks SQL through these.
//
// Journal: SQLite's rollback journal, deleted at each commit, synchronous=EXTRA. A commit that
// returned is on the disk, the folder's entry included; after a kill or a power cut the next open
// rolls back what was half done. No write-ahead log: it would keep the newest transactions in a
// second file, and a copy of the first alone would be an older register.
//
// Codes: register-missing, register-form, register-damaged, register-busy, register-read-only,
// register-full, register-io, register-constraint, register-sql.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <unordered_map>

#include "base/bytes.h"
#include "diag/error.h"
#include "io/file.h"

struct sqlite3;
struct sqlite3_stmt;

namespace cardseal::registry {

class Database;

// One run of a prepared statement: bind in order, then step. Values read are of the current row.
// Given back when it goes away; one run of a statement at a time.
class Query {
public:
  Query(Query&& other) noexcept;
  Query& operator=(Query&&) = delete;
  ~Query();

  Query& bind(std::uint64_t value); // below 2^63
  Query& bind(std::string_view text);
  Query& bind(ByteView bytes);
  Query& bind_null();

  Try<bool> next(); // true: a row is there
  Try<void> run();  // of a statement without rows

  bool is_null(int column) const;
  std::uint64_t number(int column) const;
  std::string text(int column) const;
  io::Bytes bytes(int column) const;
  // False when the value is not exactly as long as `out`.
  bool bytes_into(int column, ByteSpan out) const;

private:
  friend class Database;
  Query(Database& database, sqlite3_stmt* statement);
  Database* database_;
  sqlite3_stmt* statement_;
  int bound_ = 0;
  int bind_error_ = 0;
};

enum class Access : std::uint8_t { existing, create };

class Database {
public:
  // `busy_ms`: how long a lock of another process is waited for.
  static Try<Database> open(const io::Path& path, Access access, std::uint32_t busy_ms);
  Database(Database&& other) noexcept;
  Database& operator=(Database&&) = delete;
  ~Database();

  // The prepared statement is kept, under its text.
  Try<Query> query(const char* sql);
  Try<void> execute(const char* sql); // several statements, no values
  // The one number that a statement without values gives.
  Try<std::uint64_t> number(const char* sql);
  std::uint64_t last_row() const;

  const io::Path& path() const { return path_; }
  Error error(int code) const; // of SQLite's result code

private:
  Database(sqlite3* handle, io::Path path, std::uint32_t busy_ms);
  sqlite3* handle_;
  io::Path path_;
  std::uint32_t busy_ms_;
  std::unordered_map<std::string, sqlite3_stmt*> statements_;
};

// Takes the write lock at once, so that what is read is what is built upon; undone unless
// committed.
class Transaction {
public:
  static Try<Transaction> begin(Database& database);
  // All reads of one see one state.
  static Try<Transaction> begin_reading(Database& database);
  Transaction(Transaction&& other) noexcept;
  Transaction& operator=(Transaction&&) = delete;
  ~Transaction();
  Try<void> commit();

private:
  explicit Transaction(Database& database) : database_(&database) {}
  Database* database_;
};

} // namespace cardseal::registry

// Hands an error on.
#define REGISTER_CONCAT_(a, b) a##b
#define REGISTER_CONCAT(a, b) REGISTER_CONCAT_(a, b)
#define REGISTER_TRY_(name, value, expression)                                                     \
  auto name = (expression);                                                                        \
  if (!name) {                                                                                     \
    return Unexpected(std::move(name).error());                                                    \
  }                                                                                                \
  auto& value = *name
#define REG_TRY(value, expression) REGISTER_TRY_(REGISTER_CONCAT(try_, __LINE__), value, expression)
#define REG_DO(expression)                                                                         \
  if (auto tried = (expression); !tried) {                                                         \
    return Unexpected(std::move(tried).error());                                                   \
  }
