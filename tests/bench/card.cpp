// Writes a card image of some files again and again, by the code that card make uses, and prints
// microseconds: medians of planning and of writing.
//   card IMAGE MEBIBYTES-OF-IMAGE ROUNDS FOLDER      every file of FOLDER goes on the card
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "card/make.h"

using namespace cardseal;

namespace {

using Clock = std::chrono::steady_clock;

double since(Clock::time_point start) {
  return std::chrono::duration<double, std::micro>(Clock::now() - start).count();
}

double median(std::vector<double> times) {
  std::sort(times.begin(), times.end());
  return times[times.size() / 2];
}

std::vector<card::CardFile> read_folder(const char* folder) {
  std::vector<card::CardFile> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    std::ifstream in(entry.path(), std::ios::binary);
    files.push_back({entry.path().filename().string(),
                     io::Bytes(std::istreambuf_iterator<char>(in), {}), nullptr});
  }
  std::sort(files.begin(), files.end(),
            [](const auto& a, const auto& b) { return a.path < b.path; });
  return files;
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 5) {
    return 64;
  }
  card::Card card;
  card.files = read_folder(argv[4]);
  fat32::VolumeOptions options;
  options.image_sectors = static_cast<std::uint32_t>(std::atoi(argv[2])) * 2048;
  options.sectors_per_cluster = options.image_sectors < 1'000'000 ? 1 : 8;
  options.label = "BENCH";
  options.time = {2026, 3, 2, 9, 0, 0};
  std::vector<double> planning;
  std::vector<double> writing;
  for (int round = 0; round < std::atoi(argv[3]); ++round) {
    const Clock::time_point start = Clock::now();
    Try<fat32::VolumePlan> plan = fat32::plan_volume(options, card::tree_of(card.files));
    if (!plan) {
      std::fprintf(stderr, "%s\n", describe(plan.error()).c_str());
      return 1;
    }
    planning.push_back(since(start));
    card.plan = std::move(*plan);
    const Clock::time_point written = Clock::now();
    if (Try<void> done = card::write_card(io::real_system(), card, argv[1], io::IfExists::replace);
        !done) {
      std::fprintf(stderr, "%s\n", describe(done.error()).c_str());
      return 1;
    }
    writing.push_back(since(written));
  }
  std::printf("%.0f %.0f\n", median(planning), median(writing));
  return 0;
}
