// Where the sectors of a card come from and go to. All numbers are absolute: sector 0 is the first
// of the card or image, whether or not it is partitioned. Sectors have 512 bytes.
#pragma once

#include <cstdint>
#include <string>

#include "diag/error.h"
#include "io/file.h"

namespace cardseal::fat32 {

class SectorSource {
public:
  virtual ~SectorSource() = default;
  virtual std::uint32_t sector_count() const = 0;
  virtual std::string name() const = 0; // for messages
  // out.size() is a multiple of 512; every sector asked for is there.
  virtual Try<void> read(std::uint32_t lba, ByteSpan out) = 0;
};

class SectorSink {
public:
  virtual ~SectorSink() = default;
  virtual Try<void> begin(std::uint32_t sector_count) = 0; // once, before the rest
  virtual Try<void> write(std::uint32_t lba, ByteView sectors) = 0;
  virtual Try<void> zero(std::uint32_t lba, std::uint32_t count) = 0;
};

// An image file or a block device. A last part shorter than a sector is not seen.
class FileSource final : public SectorSource {
public:
  explicit FileSource(const io::ReadFile& file) : file_(file) {}
  std::uint32_t sector_count() const override;
  std::string name() const override { return file_.path().string(); }
  Try<void> read(std::uint32_t lba, ByteSpan out) override;

private:
  const io::ReadFile& file_;
};

// A file being made: zeros stay holes. Nothing is written twice, so a hole is never dirty.
class NewFileSink final : public SectorSink {
public:
  explicit NewFileSink(io::NewFile& file) : file_(file) {}
  Try<void> begin(std::uint32_t sector_count) override;
  Try<void> write(std::uint32_t lba, ByteView sectors) override;
  Try<void> zero(std::uint32_t lba, std::uint32_t count) override;

private:
  io::NewFile& file_;
};

} // namespace cardseal::fat32
