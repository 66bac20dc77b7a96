// What stands behind a path, by a tree of files that stands for the system's own.
#include <array>
#include <filesystem>
#include <fstream>

#include "io/device.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;
using namespace cardseal::io;

namespace {

// The parts of /sys and /proc that sysfs(5), proc(5) and the kernel's stable ABI documents
// (Documentation/ABI/stable/sysfs-block) describe.
struct Machine {
  TempFolder folder;
  DeviceRoots roots{folder / "sys", folder / "proc"};

  Machine() {
    put("sys/block/sdb/removable", "1\n");
    put("sys/block/sdb/ro", "0\n");
    put("sys/block/sdb/device/vendor", "Pebble  \n");
    put("sys/block/sdb/device/model", "Card Reader\x1b[2J\n");
    put("sys/block/sdb/sdb1/partition", "1\n");
    put("sys/block/sdb/sdb1/dev", "8:17\n");
    put("proc/self/mountinfo", "22 1 259:1 / / rw - ext4 /dev/nvme0n1p1 rw\n");
    put("proc/swaps", "Filename Type Size Used Priority\n");
    std::filesystem::create_directories(folder / "sys/dev/block");
    std::filesystem::create_directory_symlink(folder / "sys/block/sdb",
                                              folder / "sys/dev/block/8:16");
  }
  void put(const std::string& path, const std::string& text) const {
    std::filesystem::create_directories((folder / path).parent_path());
    std::ofstream(folder / path, std::ios::app) << text;
  }
  DeviceFacts facts(std::uint64_t bytes = 1'967'128'576) const {
    DeviceFacts out;
    out.path = "/dev/sdb";
    out.bytes = bytes;
    add_block_facts(out, 8, 16, roots);
    return out;
  }
};

} // namespace

TEST_CASE("a card in a reader is told by maker, model and parts, and can't steer a terminal") {
  const Machine machine;
  const DeviceFacts facts = machine.facts();
  CHECK(facts.name == "sdb");
  CHECK(facts.model == "Pebble Card Reader?[2J");
  CHECK(facts.removable);
  CHECK_FALSE(facts.read_only);
  CHECK_FALSE(facts.partition);
  CHECK(facts.partitions == std::vector<std::string>{"sdb1"});
  CHECK(facts.mounted.empty());
  CHECK(facts.other_users.empty());
  const std::vector<std::uint8_t> first(512, 0x55);
  CHECK(device_id(facts, first).size() == 8);
  CHECK(device_id(facts, first) != device_id(machine.facts(1'967'128'064), first));
  CHECK(device_id(facts, first) !=
        device_id(facts, std::vector<std::uint8_t>(512, 0x54))); // another card, same reader
}

TEST_CASE("a device is mounted when a part of it is, by its numbers or by its name") {
  const Machine machine;
  machine.put("proc/self/mountinfo", "40 22 8:17 / /media/card rw,relatime shared:1 - vfat x rw\n");
  machine.put("proc/self/mountinfo", "41 22 0:44 / /mnt/by\\040name rw - btrfs /dev/sdb1 rw\n");
  CHECK(machine.facts().mounted == std::vector<std::string>{"/media/card", "/mnt/by\\040name"});
}

TEST_CASE("swap and devices that are made of a part count as use") {
  const Machine machine;
  machine.put("proc/swaps", "/dev/sdb1 partition 1024 0 -2\n");
  machine.put("sys/block/sdb/sdb1/holders/dm-0/dev", "253:0\n");
  CHECK(machine.facts().other_users == std::vector<std::string>{"dm-0", "swap"});
}

TEST_CASE("a card in a slot of the machine itself is removable, a plain disk is not") {
  const Machine machine;
  std::filesystem::remove(machine.folder / "sys/block/sdb/removable");
  CHECK_FALSE(machine.facts().removable);
  machine.put("sys/block/sdb/device/type", "SD\n");
  CHECK(machine.facts().removable);
}

TEST_CASE("a file stands for a card, and nothing else does") {
  const TempFolder folder;
  std::ofstream(folder / "card") << "0123456789";
  const Try<DeviceFacts> facts = look_at_device(real_system(), folder / "card");
  REQUIRE(facts);
  CHECK(facts->file);
  CHECK(facts->bytes == 10);
  std::filesystem::create_hard_link(folder / "card", folder / "other");
  std::filesystem::create_symlink("other", folder / "third");
  CHECK(is_same_medium(*facts, folder / "third"));
  std::ofstream(folder / "copy") << "0123456789";
  CHECK_FALSE(is_same_medium(*facts, folder / "copy"));
  CHECK(look_at_device(real_system(), folder.path()).error().code == "no-device");
  CHECK(look_at_device(real_system(), "/dev/null").error().code == "no-device");
  CHECK(look_at_device(real_system(), folder / "none").error().kind == ErrorKind::no_input);
}

TEST_CASE("what is opened to be read is never written to, whoever runs the program") {
  const TempFolder folder;
  std::ofstream(folder / "card.img") << "1234";
  Try<Device> card = Device::open(real_system(), folder / "card.img", Open::read);
  REQUIRE(card.has_value());
  const std::array<std::uint8_t, 1> byte{'x'};
  CHECK_FALSE(card->write_at(0, byte));
  std::array<std::uint8_t, 4> found{};
  REQUIRE(card->read_at(0, found));
  CHECK(found == std::array<std::uint8_t, 4>{'1', '2', '3', '4'});
}
