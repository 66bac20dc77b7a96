#include "format/run_log.h"

#include "base/crc.h"

namespace cardseal::format {
namespace {

constexpr std::string_view header_start = "CARDSEAL-LOG,1,";
constexpr std::size_t record_fields = 17;
constexpr std::size_t header_fields = 5;

bool is_word(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const bool firm = (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
    if (!firm && (i == 0 || (c != '.' && c != ':' && c != '-'))) {
      return false;
    }
  }
  return true;
}

// `from` in `digits` capitals; capitals only, so that no field needs quoting or case folding.
void spell_capital_hex(std::uint64_t value, std::size_t digits, char* out) {
  for (std::size_t i = digits; i-- > 0; value >>= 4) {
    out[i] = "0123456789ABCDEF"[value & 0xFU];
  }
}

bool parse_capital_hex(std::string_view text, std::size_t digits, std::uint64_t& out) {
  std::uint64_t value = 0;
  for (const char c : text) {
    const bool letter = c >= 'A' && c <= 'F';
    if (!letter && (c < '0' || c > '9')) {
      return false;
    }
    value = (value << 4) | static_cast<std::uint64_t>(letter ? c - 'A' + 10 : c - '0');
  }
  out = value;
  return text.size() == digits;
}

class Writer {
public:
  explicit Writer(LogSector out) : out_(out) { render_log_blank(out_); }

  void text(std::string_view field) { comma(), put(field); }
  void uint(std::uint64_t value) {
    std::array<char, 20> spelled{};
    text({spelled.data(), spell_uint(value, spelled)});
  }
  void hex(std::uint64_t value, std::size_t digits) {
    std::array<char, 16> spelled{};
    spell_capital_hex(value, digits, spelled.data());
    text({spelled.data(), digits});
  }
  void crc() {
    comma();
    first_ = true; // the CRC covers the comma in front of it
    hex(crc32(ByteView(out_).first(at_)), 8);
  }

private:
  void comma() {
    if (!first_) {
      put(",");
    }
    first_ = false;
  }
  void put(std::string_view piece) { // the longest record has fewer than 400 bytes
    copy(out_.subspan(at_, piece.size()), bytes_of(piece));
    at_ += piece.size();
  }

  LogSector out_;
  std::size_t at_ = 0;
  bool first_ = true;
};

// Takes fields one after the other; the first fault sticks.
class Reader {
public:
  Reader(LogSectorView sector, std::size_t fields) : sector_(sector) {
    std::size_t end = log_sector - 1;
    while (end > 0 && sector[end - 1] == ' ') {
      --end;
    }
    rest_ = text_of(ByteView(sector).first(end));
    if (sector[log_sector - 1] != '\n' || end == 0) {
      outcome_ = refuse(Fault::text_line, log_sector - 1);
    }
    std::size_t found = 1;
    for (const char c : rest_) {
      found += c == ',' ? 1 : 0;
    }
    if (outcome_.ok() && found != fields) {
      outcome_ = refuse(Fault::text_fields, static_cast<std::uint32_t>(found));
    }
  }

  Outcome outcome() const { return outcome_; }
  std::size_t at() const { return at_; }

  std::string_view next() {
    const std::size_t comma = rest_.find(',');
    const std::string_view field = slice(rest_, 0, comma);
    field_at_ = at_;
    at_ += field.size() + 1;
    rest_ = slice(rest_, field.size() + 1);
    return field;
  }
  void word(LogWord& out, bool may_be_empty) {
    const std::string_view field = next();
    need(is_word(field) && out.set(field) && (may_be_empty || !field.empty()), Fault::text_form);
  }
  template <class T>
  void uint(T& out, std::uint64_t low, std::uint64_t high) {
    std::uint64_t value = 0;
    need(parse_uint(next(), value), Fault::text_form);
    need(value >= low && value <= high, Fault::text_range);
    out = static_cast<T>(value);
  }
  void ordinal(Maybe<std::uint64_t>& out) {
    out.present = !rest_.empty() && rest_[0] != ',';
    if (out.present) {
      uint(out.value, 0, max_ordinal);
    } else {
      next();
    }
  }
  void hex(std::uint64_t& out, std::size_t digits) {
    need(parse_capital_hex(next(), digits, out), Fault::text_form);
  }
  void exactly(std::string_view expected) { need(next() == expected, Fault::text_form); }
  void crc() {
    const std::size_t covered = at_;
    std::uint64_t found = 0;
    hex(found, 8);
    need(found == crc32(ByteView(sector_).first(covered < log_sector ? covered : log_sector)),
         Fault::text_form);
  }

private:
  void need(bool good, Fault fault) {
    if (outcome_.ok() && !good) {
      outcome_ = refuse(fault, static_cast<std::uint32_t>(field_at_));
    }
  }

  LogSectorView sector_;
  std::string_view rest_;
  std::size_t at_ = 0;
  std::size_t field_at_ = 0;
  Outcome outcome_{};
};

bool in_form(const LogRecord& r) {
  for (const LogWord* word : {&r.date, &r.shift, &r.fixture, &r.reel, &r.panel}) {
    if (!is_word(word->view())) {
      return false;
    }
  }
  return r.station.size > 0 && is_word(r.station.view()) && r.outcome.size > 0 &&
         is_word(r.outcome.view()) && r.enrolment >= 1 && r.session >= 1 && r.cycle >= 1 &&
         r.slot >= 1 && r.slot <= 32 && (!r.ordinal.present || r.ordinal.value <= max_ordinal);
}

ByteView before_last_commas(LogSectorView sector, std::size_t commas) {
  std::size_t end = log_sector;
  while (end > 0 && commas > 0) {
    --end;
    commas -= sector[end] == ',' ? 1 : 0;
  }
  return ByteView(sector).first(commas == 0 ? end + 1 : 0);
}

} // namespace

void render_log_blank(LogSector out) {
  fill(out, ' ');
  out[log_sector - 1] = '\n';
}

bool render_log_record(const LogRecord& r, LogSector out) {
  if (!in_form(r)) {
    return false;
  }
  Writer writer(out);
  writer.text(r.station.view());
  writer.uint(r.enrolment);
  writer.uint(r.session);
  writer.uint(r.cycle);
  writer.uint(r.slot);
  if (r.ordinal.present) {
    writer.uint(r.ordinal.value);
  } else {
    writer.text("");
  }
  writer.text(r.outcome.view());
  writer.uint(r.tries);
  writer.uint(r.supply_mv);
  writer.uint(r.duration_ms);
  for (const LogWord* word : {&r.date, &r.shift, &r.fixture, &r.reel, &r.panel}) {
    writer.text(word->view());
  }
  writer.hex(r.chain, 16);
  writer.crc();
  return true;
}

void render_log_header(const LogHeader& header, LogSector out) {
  Writer writer(out);
  writer.text(slice(header_start, 0, header_start.size() - 1));
  writer.hex(load_be64(header.card.data()), 16);
  writer.uint(header.record_sectors);
  writer.crc();
}

LogSectorKind log_sector_kind(LogSectorView sector) {
  const std::string_view text = text_of(sector);
  if (text[log_sector - 1] != '\n') {
    return LogSectorKind::other;
  }
  if (slice(text, 0, header_start.size()) == header_start) {
    return LogSectorKind::header;
  }
  std::array<std::uint8_t, log_sector> blank{};
  render_log_blank(blank);
  if (equal(sector, blank)) {
    return LogSectorKind::blank;
  }
  LogRecord ignored;
  return parse_log_record(sector, ignored).ok() ? LogSectorKind::record : LogSectorKind::other;
}

Outcome parse_log_record(LogSectorView sector, LogRecord& r) {
  Reader reader(sector, record_fields);
  if (!reader.outcome().ok()) {
    return reader.outcome();
  }
  reader.word(r.station, false);
  reader.uint(r.enrolment, 1, 0xFFFF'FFFF);
  reader.uint(r.session, 1, 0xFFFF'FFFF);
  reader.uint(r.cycle, 1, 0xFFFF'FFFF);
  reader.uint(r.slot, 1, 32);
  reader.ordinal(r.ordinal);
  reader.word(r.outcome, false);
  reader.uint(r.tries, 0, 0xFF);
  reader.uint(r.supply_mv, 0, 0xFFFF);
  reader.uint(r.duration_ms, 0, 0xFFFF'FFFF);
  for (LogWord* word : {&r.date, &r.shift, &r.fixture, &r.reel, &r.panel}) {
    reader.word(*word, true);
  }
  reader.hex(r.chain, 16);
  reader.crc();
  return reader.outcome();
}

Outcome parse_log_header(LogSectorView sector, LogHeader& out) {
  Reader reader(sector, header_fields);
  if (!reader.outcome().ok()) {
    return reader.outcome();
  }
  std::uint64_t card = 0;
  reader.exactly("CARDSEAL-LOG");
  reader.exactly("1");
  reader.hex(card, 16);
  reader.uint(out.record_sectors, 1, 4'194'304);
  reader.crc();
  store_be64(out.card.data(), card);
  return reader.outcome();
}

ByteView log_bytes_before_chain(LogSectorView sector) {
  return before_last_commas(sector, 2);
}

ByteView log_bytes_before_crc(LogSectorView sector) {
  return before_last_commas(sector, 1);
}

} // namespace cardseal::format
