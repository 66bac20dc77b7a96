#include "register/sqlite.h"

#include <algorithm>

#include <fmt/format.h>
#include <sqlite3.h>

namespace cardseal::registry {
namespace {

struct Explained {
  ErrorKind kind;
  const char* code;
  const char* what;
  const char* hint;
};

Explained explain(int code) {
  switch (code & 0xFF) {
  case SQLITE_CANTOPEN:
    return {ErrorKind::no_input, "register-missing", "the register can't be opened",
            "name an existing register, or start one with: cardseal serial new"};
  case SQLITE_NOTADB:
    return {ErrorKind::bad_data, "register-form", "this file is no register",
            "name the register's file"};
  case SQLITE_CORRUPT:
    return {
        ErrorKind::bad_data, "register-damaged", "the register is damaged",
        "go back to the newest backup, and show it every card made since: cardseal serial meet"};
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return {ErrorKind::io, "register-busy", "another program holds the register",
            "end that program, or try again"};
  case SQLITE_READONLY:
  case SQLITE_PERM:
  case SQLITE_AUTH:
    return {ErrorKind::permission, "register-read-only", "the register can't be written",
            "allow writing to the file and to its folder"};
  case SQLITE_FULL:
    return {ErrorKind::io, "register-full", "no room for the register on its disk",
            "make room and try again; what was half written is undone"};
  case SQLITE_IOERR:
    return {ErrorKind::io, "register-io", "reading or writing the register failed",
            "check the disk; what was half written is undone"};
  case SQLITE_CONSTRAINT:
    return {ErrorKind::internal, "register-constraint", "the register's own rules forbid this",
            "run: cardseal serial check"};
  default:
    return {ErrorKind::internal, "register-sql", "the register did not answer", ""};
  }
}

} // namespace

Query::Query(Database& database, sqlite3_stmt* statement)
    : database_(&database), statement_(statement) {}

Query::Query(Query&& other) noexcept
    : database_(other.database_), statement_(std::exchange(other.statement_, nullptr)),
      bound_(other.bound_), bind_error_(other.bind_error_) {}

Query::~Query() {
  if (statement_ != nullptr) {
    sqlite3_reset(statement_);
    sqlite3_clear_bindings(statement_);
  }
}

Query& Query::bind(std::uint64_t value) {
  bind_error_ |= value > INT64_MAX
                     ? SQLITE_TOOBIG
                     : sqlite3_bind_int64(statement_, ++bound_, static_cast<sqlite3_int64>(value));
  return *this;
}

Query& Query::bind(std::string_view text) {
  bind_error_ |=
      sqlite3_bind_text64(statement_, ++bound_, text.data() == nullptr ? "" : text.data(),
                          text.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
  return *this;
}

Query& Query::bind(ByteView bytes) {
  // A null pointer would bind NULL.
  const void* data = bytes.empty() ? static_cast<const void*>("") : bytes.data();
  bind_error_ |= sqlite3_bind_blob64(statement_, ++bound_, data, bytes.size(), SQLITE_TRANSIENT);
  return *this;
}

Query& Query::bind_null() {
  bind_error_ |= sqlite3_bind_null(statement_, ++bound_);
  return *this;
}

Try<bool> Query::next() {
  if (bind_error_ != SQLITE_OK) {
    return Unexpected(database_->error(bind_error_));
  }
  const int code = sqlite3_step(statement_);
  if (code == SQLITE_ROW || code == SQLITE_DONE) {
    return code == SQLITE_ROW;
  }
  return Unexpected(database_->error(code));
}

Try<void> Query::run() {
  Try<bool> row = next();
  return row ? Try<void>() : Try<void>(Unexpected(std::move(row).error()));
}

bool Query::is_null(int column) const {
  return sqlite3_column_type(statement_, column) == SQLITE_NULL;
}

std::uint64_t Query::number(int column) const {
  return static_cast<std::uint64_t>(sqlite3_column_int64(statement_, column));
}

std::string Query::text(int column) const {
  const unsigned char* text = sqlite3_column_text(statement_, column);
  return text == nullptr
             ? std::string()
             : std::string(reinterpret_cast<const char*>(text),
                           static_cast<std::size_t>(sqlite3_column_bytes(statement_, column)));
}

io::Bytes Query::bytes(int column) const {
  const auto* data = static_cast<const std::uint8_t*>(sqlite3_column_blob(statement_, column));
  const int size = sqlite3_column_bytes(statement_, column);
  return data == nullptr ? io::Bytes() : io::Bytes(data, data + size);
}

bool Query::bytes_into(int column, ByteSpan out) const {
  const io::Bytes value = bytes(column);
  if (value.size() != out.size()) {
    return false;
  }
  std::copy(value.begin(), value.end(), out.begin());
  return true;
}

Database::Database(sqlite3* handle, io::Path path, std::uint32_t busy_ms)
    : handle_(handle), path_(std::move(path)), busy_ms_(busy_ms) {}

Database::Database(Database&& other) noexcept
    : handle_(std::exchange(other.handle_, nullptr)), path_(std::move(other.path_)),
      busy_ms_(other.busy_ms_), statements_(std::move(other.statements_)) {}

Database::~Database() {
  if (handle_ != nullptr) {
    for (const auto& [sql, statement] : statements_) {
      sqlite3_finalize(statement);
    }
    sqlite3_close(handle_);
  }
}

Try<Database> Database::open(const io::Path& path, Access access, std::uint32_t busy_ms) {
  // Nobody asks how much memory it holds; counting it takes a lock for each piece. It says no when
  // the library is in use already, and nothing depends on it.
  static const int uncounted = sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
  (void)uncounted;
  // A file that can't be written is still opened, and read.
  const int flags =
      access == Access::create ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READWRITE;
  sqlite3* handle = nullptr;
  // No mutexes: a Database is used by one thread at a time.
  const int code = sqlite3_open_v2(path.c_str(), &handle,
                                   flags | SQLITE_OPEN_EXRESCODE | SQLITE_OPEN_NOMUTEX, nullptr);
  Database database(handle, path, busy_ms);
  if (code != SQLITE_OK) {
    return Unexpected(database.error(code));
  }
  sqlite3_busy_timeout(handle, static_cast<int>(busy_ms));
  // Nothing in the file's own schema may run code, whoever wrote the file.
  sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  REG_DO(database.execute("PRAGMA journal_mode=DELETE; PRAGMA synchronous=EXTRA;"
                          "PRAGMA foreign_keys=ON; PRAGMA cell_size_check=ON;"
                          "PRAGMA temp_store=MEMORY;"));
  return database;
}

Try<Query> Database::query(const char* sql) {
  const auto found = statements_.find(sql);
  if (found != statements_.end()) {
    return Query(*this, found->second);
  }
  sqlite3_stmt* statement = nullptr;
  const int code =
      sqlite3_prepare_v3(handle_, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  if (code != SQLITE_OK) {
    return Unexpected(error(code));
  }
  statements_.emplace(sql, statement);
  return Query(*this, statement);
}

Try<void> Database::execute(const char* sql) {
  const int code = sqlite3_exec(handle_, sql, nullptr, nullptr, nullptr);
  return code == SQLITE_OK ? Try<void>() : Try<void>(Unexpected(error(code)));
}

Try<std::uint64_t> Database::number(const char* sql) {
  REG_TRY(asked, query(sql));
  REG_TRY(row, asked.next());
  return row ? asked.number(0) : 0;
}

std::uint64_t Database::last_row() const {
  return static_cast<std::uint64_t>(sqlite3_last_insert_rowid(handle_));
}

Error Database::error(int code) const {
  const Explained explained = explain(code);
  Error error;
  error.kind = explained.kind;
  error.code = explained.code;
  error.what = explained.what;
  error.place.file = path_.string();
  error.found = handle_ == nullptr || (sqlite3_extended_errcode(handle_) & 0xFF) != (code & 0xFF)
                    ? sqlite3_errstr(code)
                    : sqlite3_errmsg(handle_);
  if (error.code == "register-busy") {
    error.found = fmt::format("locked for more than {} ms", busy_ms_);
  }
  error.hint = explained.hint;
  return error;
}

Try<Transaction> Transaction::begin(Database& database) {
  REG_DO(database.execute("BEGIN IMMEDIATE"));
  return Transaction(database);
}

Try<Transaction> Transaction::begin_reading(Database& database) {
  REG_DO(database.execute("BEGIN"));
  return Transaction(database);
}

Transaction::Transaction(Transaction&& other) noexcept
    : database_(std::exchange(other.database_, nullptr)) {}

Transaction::~Transaction() {
  if (database_ != nullptr) {
    // After a failed write SQLite may have rolled back by itself: then this says so, and no more.
    (void)database_->execute("ROLLBACK");
  }
}

Try<void> Transaction::commit() {
  REG_DO(database_->execute("COMMIT"));
  database_ = nullptr;
  return {};
}

} // namespace cardseal::registry
