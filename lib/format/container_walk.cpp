#include "format/container_walk.h"

namespace cardseal::format {
namespace {

bool parse_octal(ByteView digits, std::uint32_t& out) {
  std::uint64_t value = 0;
  for (const std::uint8_t digit : digits) {
    if (digit < '0' || digit > '7') {
      return false;
    }
    value = (value << 3) | (digit - '0');
  }
  out = static_cast<std::uint32_t>(value);
  return value <= 0x7FFF'FFFF;
}

bool is_zero(ByteView bytes) {
  for (const std::uint8_t byte : bytes) {
    if (byte != 0) {
      return false;
    }
  }
  return true;
}

} // namespace

bool Walk::read(std::uint32_t offset, ByteSpan out) {
  if (!ok()) {
    return false;
  }
  if (offset > source_.size || out.size() > source_.size - offset) {
    outcome_ = refuse(Fault::container_short, source_.size);
    return false;
  }
  outcome_ = source_.read(source_.context, offset, out);
  return ok();
}

bool Walk::next() {
  header_at_ = at_;
  if (!read(at_, block_) || is_zero(block_)) {
    return false;
  }
  name_size_ = 0;
  while (name_size_ < entry_name_size && block_[name_size_] != 0) {
    name_[name_size_] = static_cast<char>(block_[name_size_]);
    ++name_size_;
  }
  if (!parse_octal(ByteView(block_).subspan(size_field.offset, size_field.digits), size_) ||
      !render_matches(block_)) {
    fail(Fault::container_header);
  }
  at_ += tar_block;
  return ok();
}

bool Walk::render_matches(ByteView header) {
  std::array<std::uint8_t, tar_block> rendered{};
  render_header(name(), size_, rendered);
  return equal(header, rendered);
}

Extent Walk::take(std::uint32_t limit) {
  if (!ok()) {
    return {};
  }
  if (size_ == 0 || size_ > limit) {
    fail(Fault::container_size);
  }
  if (!ok()) { // what is behind a size that is wrong is not looked at
    return {};
  }
  const Extent extent{at_, size_};
  const std::uint64_t end = std::uint64_t{at_} + padded(size_);
  if (end > source_.size) {
    outcome_ = refuse(Fault::container_short, source_.size);
    return {};
  }
  const ByteSpan tail = ByteSpan(block_).first(padded(size_) - size_);
  if (read(at_ + size_, tail) && !is_zero(tail)) {
    fail(Fault::container_padding);
  }
  at_ = static_cast<std::uint32_t>(end);
  return extent;
}

void Walk::finish() {
  if (!ok()) {
    return;
  }
  if (source_.size - at_ < 2 * tar_block) {
    outcome_ = refuse(Fault::container_short, source_.size);
    return;
  }
  if (read(at_ + tar_block, block_) && (!is_zero(block_) || source_.size - at_ != 2 * tar_block)) {
    fail(Fault::container_end);
  }
}

} // namespace cardseal::format
