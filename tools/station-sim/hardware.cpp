#include "hardware.h"

#include <algorithm>
#include <utility>

namespace cardseal::station_sim {

Try<io::Device> open_or_make(io::System& system, const std::string& path, std::size_t size) {
  if (!system.stat(io::Path(path))) {
    const io::Bytes erased(size, 0xFF);
    if (auto made = io::write_file(system, path, erased, io::IfExists::refuse); !made) {
      return Unexpected(made.error());
    }
  }
  return io::Device::open(system, path);
}

std::size_t Power::take(std::size_t size, bool card) {
  if (dead_ || (card && card_dead_)) {
    return 0;
  }
  if (left_ == 0) {
    dead_ = true;
    return size / 2;
  }
  if (card && card_left_ == 0) {
    card_dead_ = true;
    return size / 2;
  }
  left_ -= left_ == forever ? 0 : 1;
  card_left_ -= card && card_left_ != forever ? 1 : 0;
  return size;
}

loader::SectorReader Hardware::reader() {
  const auto read = [](void* context, std::uint32_t lba, ByteSpan out) {
    return static_cast<const Hardware*>(context)
        ->card_.read_at(std::uint64_t{lba} * 512, out)
        .has_value();
  };
  const std::uint64_t sectors = card_.bytes() / 512;
  return {this, read, static_cast<std::uint32_t>(std::min<std::uint64_t>(sectors, 0xFFFF'FFFFU))};
}

loader::SectorWriter Hardware::writer() {
  const auto write = [](void* context, std::uint32_t lba, ByteView bytes) {
    auto& self = *static_cast<Hardware*>(context);
    const std::size_t through = self.power.take(bytes.size(), true);
    if (self.damaged_ == lba) {
      return false;
    }
    return self.card_.write_at(std::uint64_t{lba} * 512, bytes.first(through)) &&
           through == bytes.size();
  };
  const auto sync = [](void* context) {
    auto& self = *static_cast<Hardware*>(context);
    return !self.power.card_dead() && self.card_.sync().has_value();
  };
  return {this, write, sync};
}

loader::NoteStorage Hardware::notes() {
  const auto read = [](void* context, unsigned cell, ByteSpan out) {
    return static_cast<const Hardware*>(context)
        ->notes_.read_at(cell * note_stride, out)
        .has_value();
  };
  const auto write = [](void* context, unsigned cell, ByteView bytes) {
    auto& self = *static_cast<Hardware*>(context);
    const std::size_t through = self.power.take(bytes.size(), false);
    return self.notes_.write_at(cell * note_stride, bytes.first(through)) &&
           through == bytes.size();
  };
  const auto sync = [](void* context) {
    auto& self = *static_cast<Hardware*>(context);
    return !self.power.dead() && self.notes_.sync().has_value();
  };
  return {this, read, write, sync};
}

loader::StateStorage Hardware::memory() {
  const auto read = [](void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
    const auto& memory = static_cast<const Hardware*>(context)->memory_;
    return memory.read(memory.context, slot, offset, out);
  };
  const auto write = [](void* context, unsigned slot, std::uint32_t offset, ByteView bytes) {
    auto& self = *static_cast<Hardware*>(context);
    const std::size_t through = self.power.take(bytes.size(), false);
    return self.memory_.write(self.memory_.context, slot, offset, bytes.first(through)) &&
           through == bytes.size();
  };
  const auto sync = [](void* context) {
    const auto& self = *static_cast<const Hardware*>(context);
    return !self.power.dead() && self.memory_.sync(self.memory_.context);
  };
  return {this, read, write, sync};
}

} // namespace cardseal::station_sim
