// Edits of one volume: each 7 bytes of the input are a sector, an offset in it and a value.
#include <map>

#include "claim.h"
#include "unit/fat32/volumes.h"

namespace {

using namespace cardseal;
using namespace cardseal::fat32;

class Edited final : public SectorSource {
public:
  Edited(MemoryCard& below, ByteView edits) : below_(below) {
    for (; edits.size() >= 7; edits = edits.subspan(7)) {
      const std::uint32_t lba = load_be32(edits.data()) % below_.sector_count();
      const auto [at, fresh] = sectors_.try_emplace(lba);
      if (fresh) {
        at->second = testing::sector_of(below_, lba);
      }
      at->second[load_be16(edits.data() + 4) % 512] = edits[6];
    }
  }
  std::uint32_t sector_count() const override { return below_.sector_count(); }
  std::string name() const override { return "edited"; }
  Try<void> read(std::uint32_t lba, ByteSpan out) override {
    fuzz::claim(out.size() / 512 <= sector_count() && lba <= sector_count() - out.size() / 512,
                "only sectors that exist are read");
    if (auto done = below_.read(lba, out); !done) {
      return done;
    }
    const std::uint64_t end = lba + out.size() / 512;
    for (auto at = sectors_.lower_bound(lba); at != sectors_.end() && at->first < end; ++at) {
      copy(out.subspan(std::size_t{at->first - lba} * 512, 512), at->second);
    }
    return {};
  }

private:
  MemoryCard& below_;
  std::map<std::uint32_t, Sector> sectors_;
};

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static testing::MadeVolume volume =
      testing::make_volume(testing::sample_options(), testing::sample_tree());
  Edited edited(volume.card, ByteView(data, size));
  const Try<CheckReport> report = check_volume(edited);
  fuzz::claim(report.has_value(), "a volume that can be read gets a report");
  fuzz::claim(size >= 7 || report->clean(), "the volume without edits is clean");
  const Try<CheckReport> again = check_volume(edited);
  fuzz::claim(again.has_value() && again->clean() == report->clean() &&
                  again->entries.size() == report->entries.size(),
              "one volume has one report");
  return 0;
}
