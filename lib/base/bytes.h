// Views of bytes and text, and the two byte orders, for desk and station alike.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace cardseal {

using ByteView = std::span<const std::uint8_t>;
using ByteSpan = std::span<std::uint8_t>;

inline ByteView bytes_of(std::string_view text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

inline std::string_view text_of(ByteView bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

// std::string_view::substr can throw, which freestanding code may not; this clamps instead.
constexpr std::string_view slice(std::string_view text, std::size_t from,
                                 std::size_t count = static_cast<std::size_t>(-1)) {
  if (from >= text.size()) {
    return {};
  }
  const std::size_t left = text.size() - from;
  return {text.data() + from, count < left ? count : left};
}

bool equal(ByteView a, ByteView b);
void copy(ByteSpan to, ByteView from); // to.size() == from.size(); the two do not overlap
void fill(ByteSpan to, std::uint8_t value);

// `at` must hold as many bytes as the type is wide.
constexpr std::uint16_t load_le16(const std::uint8_t* at) {
  return static_cast<std::uint16_t>(at[0] | (at[1] << 8));
}
constexpr std::uint32_t load_le32(const std::uint8_t* at) {
  return static_cast<std::uint32_t>(load_le16(at)) |
         (static_cast<std::uint32_t>(load_le16(at + 2)) << 16);
}
constexpr std::uint16_t load_be16(const std::uint8_t* at) {
  return static_cast<std::uint16_t>((at[0] << 8) | at[1]);
}
constexpr std::uint32_t load_be32(const std::uint8_t* at) {
  return (static_cast<std::uint32_t>(load_be16(at)) << 16) |
         static_cast<std::uint32_t>(load_be16(at + 2));
}
constexpr std::uint64_t load_be64(const std::uint8_t* at) {
  return (static_cast<std::uint64_t>(load_be32(at)) << 32) | load_be32(at + 4);
}
constexpr void store_le16(std::uint8_t* at, std::uint16_t value) {
  at[0] = static_cast<std::uint8_t>(value);
  at[1] = static_cast<std::uint8_t>(value >> 8);
}
constexpr void store_le32(std::uint8_t* at, std::uint32_t value) {
  store_le16(at, static_cast<std::uint16_t>(value));
  store_le16(at + 2, static_cast<std::uint16_t>(value >> 16));
}
constexpr void store_be16(std::uint8_t* at, std::uint16_t value) {
  at[0] = static_cast<std::uint8_t>(value >> 8);
  at[1] = static_cast<std::uint8_t>(value);
}
constexpr void store_be32(std::uint8_t* at, std::uint32_t value) {
  store_be16(at, static_cast<std::uint16_t>(value >> 16));
  store_be16(at + 2, static_cast<std::uint16_t>(value));
}
constexpr void store_be64(std::uint8_t* at, std::uint64_t value) {
  store_be32(at, static_cast<std::uint32_t>(value >> 32));
  store_be32(at + 4, static_cast<std::uint32_t>(value));
}

} // namespace cardseal
