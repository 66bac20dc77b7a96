// Cyclic redundancy checks by the parameters of the CRC catalogue
// (reveng.sourceforge.io/crc-catalogue): width, poly, init, refin = refout, xorout.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

#include "base/bytes.h"

namespace cardseal {

struct CrcModel {
  std::string_view name; // the catalogue's name; a bare "CCITT" names at least four of these
  unsigned width;        // bits, 8 to 32
  std::uint32_t poly;
  std::uint32_t init;
  bool reflected;
  std::uint32_t xorout;
  std::uint32_t check; // over the ASCII digits 123456789
};

inline constexpr CrcModel crc_models[] = {
    {"CRC-16/ARC", 16, 0x8005, 0x0000, true, 0x0000, 0xBB3D},
    {"CRC-16/MODBUS", 16, 0x8005, 0xFFFF, true, 0x0000, 0x4B37},
    {"CRC-16/XMODEM", 16, 0x1021, 0x0000, false, 0x0000, 0x31C3},
    {"CRC-16/IBM-3740", 16, 0x1021, 0xFFFF, false, 0x0000, 0x29B1},
    {"CRC-16/SPI-FUJITSU", 16, 0x1021, 0x1D0F, false, 0x0000, 0xE5CC},
    {"CRC-16/KERMIT", 16, 0x1021, 0x0000, true, 0x0000, 0x2189},
    {"CRC-16/IBM-SDLC", 16, 0x1021, 0xFFFF, true, 0xFFFF, 0x906E},
    {"CRC-16/GENIBUS", 16, 0x1021, 0xFFFF, false, 0xFFFF, 0xD64E},
    {"CRC-32/ISO-HDLC", 32, 0x04C11DB7, 0xFFFFFFFF, true, 0xFFFFFFFF, 0xCBF43926},
    {"CRC-32/BZIP2", 32, 0x04C11DB7, 0xFFFFFFFF, false, 0xFFFFFFFF, 0xFC891918},
    {"CRC-32/MPEG-2", 32, 0x04C11DB7, 0xFFFFFFFF, false, 0x00000000, 0x0376E6E7},
    {"CRC-32/CKSUM, no length", 32, 0x04C11DB7, 0x00000000, false, 0xFFFFFFFF, 0x765E7680},
    {"CRC-32/ISCSI", 32, 0x1EDC6F41, 0xFFFFFFFF, true, 0xFFFFFFFF, 0xE3069283},
};

const CrcModel* find_crc(std::string_view catalogue_name); // null when there is none

// A name of the catalogue, or parameters as `width/poly/init/r/xorout` in lower-case hex of all the
// width's digits, with the width in decimal (8, 16, 24 or 32) and n for r when it is not reflected:
// 16/8005/ffff/r/0000. The model's name is then `text` itself, which must outlive it; its check is
// 0. Parameters that the catalogue has are refused under any other name. False: `text` is neither.
bool parse_crc(std::string_view text, CrcModel& model);

// Feed bytes in any number of pieces; value() may be read at any time.
class Crc {
public:
  explicit Crc(const CrcModel& model);
  void update(ByteView bytes);
  std::uint32_t value() const;

private:
  CrcModel model_;
  // Of a reflected model, which half a byte changes: 64 bytes of stack make a station's check of
  // its memory three times as fast, and a whole table would need a kilobyte.
  std::array<std::uint32_t, 16> nibbles_{};
  std::uint32_t state_; // kept in the order in which bits are fed
};

std::uint32_t crc(const CrcModel& model, ByteView bytes);
std::uint32_t crc32(ByteView bytes); // CRC-32/ISO-HDLC

} // namespace cardseal
