#include "card/run_log.h"

#include "format/run_log.h"

namespace cardseal::card {

std::uint32_t log_sectors(std::uint32_t units) {
  return 1 + format::log_records_a_unit * units;
}

io::Bytes empty_log(const format::CardId& card, std::uint32_t sectors) {
  io::Bytes log(std::size_t{sectors} * format::log_sector);
  for (std::uint32_t i = 0; i < sectors; ++i) {
    const format::LogSector sector(log.data() + std::size_t{i} * format::log_sector,
                                   format::log_sector);
    if (i == 0) {
      format::render_log_header({card, sectors - 1}, sector);
    } else {
      format::render_log_blank(sector);
    }
  }
  return log;
}

} // namespace cardseal::card
