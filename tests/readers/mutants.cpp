// Damaged volumes, many of them: our checker and reader end soon on each, and what is called clean
// gives the bytes of before or, where folders name something else by now, what mtools gives too.
//   mutants COUNT SEED FOLDER      FOLDER: for the image and what mtools takes off it
// Prints figures; exit 1 and the mutant's number when anything is otherwise.
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "unit/fat32/mutants.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
namespace fs = std::filesystem;

namespace {

// A name of 255 with one letter more than a byte long is too long for the file systems that mtools
// writes to here.
std::vector<Node> shorter(std::vector<Node> nodes) {
  for (Node& node : nodes) {
    node.long_name.resize(std::min<std::size_t>(node.long_name.size(), 80));
    node.children = shorter(std::move(node.children));
  }
  return nodes;
}

class ImageFile {
public:
  ImageFile(const fs::path& path, MadeVolume& made) : made_(made) {
    std::ofstream(path, std::ios::binary).close();
    fs::resize_file(path, std::uint64_t{made.card.sector_count()} * 512);
    file_.open(path, std::ios::binary | std::ios::in | std::ios::out);
    for (std::uint32_t lba = 0; lba < made.card.sector_count(); ++lba) {
      const Sector sector = sector_of(made.card, lba);
      if (std::any_of(sector.begin(), sector.end(), [](std::uint8_t b) { return b != 0; })) {
        put(lba, sector);
      }
    }
  }
  void patch(const Patched& card) {
    for (const auto& [lba, sector] : card.patches) {
      put(lba, sector);
    }
    file_.flush();
  }
  void restore(const Patched& card) {
    for (const auto& [lba, sector] : card.patches) {
      put(lba, sector_of(made_.card, lba));
    }
    file_.flush();
  }

private:
  void put(std::uint32_t lba, const Sector& sector) {
    file_.seekp(static_cast<std::streamoff>(lba) * 512);
    file_.write(reinterpret_cast<const char*>(sector.data()), 512);
  }
  MadeVolume& made_;
  std::fstream file_;
};

// Contents that mtools gives, in any order. Names are left out: mutated ones are spelled otherwise
// on another system.
std::vector<io::Bytes> by_mtools(const fs::path& folder) {
  const fs::path out = folder / "out";
  fs::remove_all(out);
  fs::create_directory(out);
  const std::string command = "LC_ALL=C.UTF-8 mcopy -s -n -i '" + (folder / "mutant.img").string() +
                              "@@4194304' '::/*' '" + out.string() + "' 2>/dev/null </dev/null";
  (void)!std::system(command.c_str()); // what it took off tells
  std::vector<io::Bytes> files;
  for (const auto& each : fs::recursive_directory_iterator(out)) {
    if (each.is_regular_file()) {
      std::ifstream in(each.path(), std::ios::binary);
      files.emplace_back(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
    }
  }
  return files;
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    return 64;
  }
  const int count = std::atoi(argv[1]);
  const fs::path folder = argv[3];
  MadeVolume made = make_volume(sample_options(), shorter(sample_tree()));
  Mutator mutator(made, static_cast<std::uint32_t>(std::atoi(argv[2])));
  ImageFile image(folder / "mutant.img", made);
  std::size_t clean = 0;
  std::size_t opened = 0;
  std::size_t compared = 0;
  std::size_t wrong = 0;
  double longest = 0;
  for (int round = 0; round < count; ++round) {
    Patched card(made.card);
    mutator.mutate(card);
    const auto start = std::chrono::steady_clock::now();
    Judged judged = judge(made, card);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    longest = std::max(longest, took.count());
    clean += judged.clean ? 1 : 0;
    opened += judged.opened ? 1 : 0;
    if (judged.changed && judged.wrong.empty()) {
      ++compared;
      image.patch(card);
      std::vector<io::Bytes> theirs = by_mtools(folder);
      image.restore(card);
      std::sort(theirs.begin(), theirs.end());
      std::sort(judged.files.begin(), judged.files.end());
      if (theirs != judged.files) {
        judged.wrong = "mtools gives " + std::to_string(theirs.size()) + " files, we " +
                       std::to_string(judged.files.size()) + ", or other bytes";
      }
    }
    if (!judged.wrong.empty()) {
      ++wrong;
      std::printf("mutant %d: %s\n", round, judged.wrong.c_str());
      for (const auto& [lba, sector] : card.patches) {
        const Sector before = sector_of(made.card, lba);
        for (std::size_t i = 0; i < 512; ++i) {
          if (sector[i] != before[i]) {
            std::printf("  sector %u byte %zu: %02x was %02x\n", lba, i, sector[i], before[i]);
          }
        }
      }
    }
  }
  std::printf("%d mutants: %zu opened, %zu clean, %zu of these with other folders compared with "
              "mtools, %zu wrong; the longest took %.3f s\n",
              count, opened, clean, compared, wrong, longest);
  return wrong == 0 ? 0 : 1;
}
