#include "io/faulting.h"

#include <fstream>
#include <iterator>

#include "io/file.h"
#include "support/catch.h"
#include "support/temp_folder.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::io;
using cardseal::test::TempFolder;

namespace {

const std::string old_text(5000, 'o');
const std::string new_text(7000, 'n');

struct Scenario {
  IfExists if_exists;
  bool stay_down;
  int number;
  std::size_t torn_bytes;
};

// Several writes and a hole, so that a failure can fall between them.
Try<void> write_in_steps(System& system, const Path& path, IfExists if_exists) {
  Try<NewFile> file = NewFile::create(system, path, if_exists);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  const ByteView bytes = bytes_of(new_text);
  for (std::size_t at = 0; at < bytes.size(); at += 1000) {
    if (Try<void> written = file->write_at(at, bytes.subspan(at, 1000)); !written) {
      return written;
    }
  }
  if (Try<void> resized = file->resize(bytes.size()); !resized) {
    return resized;
  }
  return file->commit();
}

std::size_t temporary_files(const TempFolder& folder, const Path& target) {
  std::size_t count = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder.path())) {
    count += entry.path() != target ? 1 : 0;
  }
  return count;
}

// Runs with the call `nth` failing. False when the run ended before that call.
bool fails_cleanly(const Scenario& scenario, std::uint64_t nth) {
  const TempFolder folder;
  const Path target = folder / "target";
  const bool replacing = scenario.if_exists == IfExists::replace;
  if (replacing) {
    std::ofstream(target) << old_text;
  }
  FaultingSystem system(real_system());
  system.fail_at(nth, scenario.number);
  system.stay_down(scenario.stay_down);
  system.tear_after(scenario.torn_bytes);
  const Try<void> written = write_in_steps(system, target, scenario.if_exists);
  if (system.changing_calls() <= nth) {
    REQUIRE(written);
    CHECK(test::text_of_file(target) == new_text);
    return false;
  }
  REQUIRE_FALSE(written);
  CHECK(written.error().kind == ErrorKind::io);
  if (std::filesystem::exists(target)) {
    const std::string there = test::text_of_file(target);
    CHECK((there == new_text || (replacing && there == old_text)));
  } else {
    CHECK_FALSE(replacing);
  }
  if (!scenario.stay_down) {
    CHECK(temporary_files(folder, target) == 0);
    CHECK((replacing || !std::filesystem::exists(target)));
  }
  return true;
}

} // namespace

TEST_CASE("whichever single call fails, the name holds the old bytes or the new, whole") {
  for (const IfExists if_exists : {IfExists::refuse, IfExists::replace}) {
    for (const bool stay_down : {false, true}) {
      for (const int number : {ENOSPC, EIO}) {
        for (const std::size_t torn : {std::size_t{0}, std::size_t{1}, std::size_t{999}}) {
          const Scenario scenario{if_exists, stay_down, number, torn};
          std::uint64_t nth = 0;
          while (fails_cleanly(scenario, nth)) {
            ++nth;
          }
          // create, seven writes, resize, sync, rename, sync of the folder
          CHECK(nth == 12);
        }
      }
    }
  }
}

TEST_CASE("a failing write stores the bytes it was told to tear after") {
  const TempFolder folder;
  FaultingSystem system(real_system());
  const Sys<int> file = system.open(folder / "a", Open::create_new, 0666);
  REQUIRE(file);
  system.fail_at(1, EIO);
  system.tear_after(3);
  const Sys<std::size_t> written = system.write(*file, 0, bytes_of("abcdef"));
  REQUIRE_FALSE(written);
  CHECK(written.error().number == EIO);
  REQUIRE(system.close(*file));
  CHECK(test::text_of_file(folder / "a") == "abc");
}

TEST_CASE("every call that changes something is counted and can fail, no other") {
  const TempFolder folder;
  FaultingSystem system(real_system());
  const Sys<int> file = system.open(folder / "a", Open::create_new, 0666);
  REQUIRE(file);
  CHECK(system.changing_calls() == 1);
  std::array<std::uint8_t, 1> byte{};
  CHECK(system.stat(*file));
  CHECK(system.stat(folder / "a"));
  CHECK(system.read(*file, 0, byte));
  CHECK(system.read_stream(*file, byte));
  CHECK(system.changing_calls() == 1);
  system.fail_at(1, EIO);
  system.stay_down(true);
  CHECK_FALSE(system.write(*file, 0, byte));
  CHECK_FALSE(system.write_stream(*file, byte));
  CHECK_FALSE(system.resize(*file, 1));
  CHECK_FALSE(system.sync(*file));
  CHECK_FALSE(system.sync_folder(folder.path()));
  CHECK_FALSE(system.rename(folder / "a", folder / "b", true));
  CHECK_FALSE(system.remove(folder / "a"));
  CHECK_FALSE(system.make_folder(folder / "c"));
  CHECK_FALSE(system.open(folder / "d", Open::create_new, 0666));
  CHECK(system.changing_calls() == 10);
  CHECK(system.close(*file));
  CHECK(std::filesystem::file_size(folder / "a") == 0);
  CHECK_FALSE(std::filesystem::exists(folder / "d"));
}
