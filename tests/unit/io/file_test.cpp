#include "io/file.h"

#include <fstream>
#include <iterator>

#include <sys/stat.h>
#include <unistd.h>

#include "io/posix.h"
#include "support/catch.h"
#include "support/temp_folder.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::io;
using cardseal::test::TempFolder;

namespace {

std::size_t entries(const TempFolder& folder) {
  return static_cast<std::size_t>(
      std::distance(std::filesystem::directory_iterator(folder.path()), {}));
}

unsigned mode_of(const Path& path) {
  return real_system().stat(path)->mode;
}

// Passes everything on, but never more than three bytes at a time.
class SlowSystem final : public System {
public:
  Sys<int> open(const Path& path, Open how, std::uint32_t mode) override {
    return below_.open(path, how, mode);
  }
  Sys<void> close(int file) override { return below_.close(file); }
  Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) override {
    return below_.read(file, offset, out.first(few(out.size())));
  }
  Sys<std::size_t> read_stream(int file, ByteSpan out) override {
    return below_.read_stream(file, out.first(few(out.size())));
  }
  Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) override {
    return below_.write(file, offset, bytes.first(few(bytes.size())));
  }
  Sys<std::size_t> write_stream(int file, ByteView bytes) override {
    return below_.write_stream(file, bytes.first(few(bytes.size())));
  }
  Sys<void> resize(int file, std::uint64_t size) override { return below_.resize(file, size); }
  Sys<void> sync(int file) override { return below_.sync(file); }
  Sys<void> forget_cached(int file) override { return below_.forget_cached(file); }
  Sys<void> sync_folder(const Path& folder) override { return below_.sync_folder(folder); }
  Sys<void> rename(const Path& from, const Path& to, bool replace) override {
    return below_.rename(from, to, replace);
  }
  Sys<void> remove(const Path& path) override { return below_.remove(path); }
  Sys<void> make_folder(const Path& path) override { return below_.make_folder(path); }
  Sys<Stat> stat(const Path& path) override { return below_.stat(path); }
  Sys<Stat> stat(int file) override { return below_.stat(file); }

private:
  static std::size_t few(std::size_t size) { return size < 3 ? size : 3; }
  System& below_ = real_system();
};

} // namespace

TEST_CASE("what is written is read back, also in short pieces") {
  const TempFolder folder;
  SlowSystem slow;
  const std::string text = "ten bytes and some more";
  REQUIRE(write_file(slow, folder / "a", bytes_of(text), IfExists::refuse));
  CHECK(test::text_of_file(folder / "a") == text);
  const Try<Bytes> back = read_file(slow, folder / "a", 100);
  REQUIRE(back);
  CHECK(text_of(*back) == text);
  const Try<ReadFile> file = ReadFile::open(slow, folder / "a");
  REQUIRE(file);
  CHECK(file->size() == text.size());
  std::array<std::uint8_t, 9> part{};
  REQUIRE(file->read_at(4, part));
  CHECK(text_of(part) == "bytes and");
}

TEST_CASE("an output that exists is left alone unless it is to be replaced") {
  const TempFolder folder;
  test::put_file(folder / "a", "old");
  const Try<void> refused =
      write_file(real_system(), folder / "a", bytes_of("new"), IfExists::refuse);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::no_create);
  CHECK(refused.error().code == "output-exists");
  CHECK(describe(refused.error()) ==
        (folder / "a").string() + ": output exists (use another name or --force)");
  CHECK(test::text_of_file(folder / "a") == "old");
  REQUIRE(write_file(real_system(), folder / "a", bytes_of("new"), IfExists::replace));
  CHECK(test::text_of_file(folder / "a") == "new");
  CHECK(entries(folder) == 1);
}

TEST_CASE("an output that appears while another is written is left alone") {
  const TempFolder folder;
  Try<NewFile> file = NewFile::create(real_system(), folder / "a", IfExists::refuse);
  REQUIRE(file);
  REQUIRE(file->write_at(0, bytes_of("late")));
  test::put_file(folder / "a", "first");
  const Try<void> late = file->commit();
  REQUIRE_FALSE(late);
  CHECK(late.error().code == "output-exists");
  CHECK(test::text_of_file(folder / "a") == "first");
}

TEST_CASE("a file that is given up leaves nothing behind") {
  const TempFolder folder;
  {
    Try<NewFile> file = NewFile::create(real_system(), folder / "a", IfExists::refuse);
    REQUIRE(file);
    REQUIRE(file->write_at(0, bytes_of("half")));
    CHECK(entries(folder) == 1);
    CHECK_FALSE(std::filesystem::exists(folder / "a"));
  }
  CHECK(entries(folder) == 0);
}

TEST_CASE("a folder, a device or a pipe is never replaced by a file") {
  const TempFolder folder;
  std::filesystem::create_directory(folder / "sub");
  REQUIRE(::mkfifo((folder / "pipe").c_str(), 0600) == 0);
  std::filesystem::create_symlink("/dev/null", folder / "null");
  for (const char* name : {"sub", "pipe", "null", "sub/"}) {
    INFO(name);
    const Try<void> refused =
        write_file(real_system(), folder / name, bytes_of("x"), IfExists::replace);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().kind == ErrorKind::no_create);
  }
  CHECK(std::filesystem::is_directory(folder / "sub"));
  CHECK(std::filesystem::is_fifo(folder / "pipe"));
  CHECK(std::filesystem::is_symlink(folder / "null"));
}

TEST_CASE("a missing output folder can't be created in") {
  const TempFolder folder;
  const Try<void> refused =
      write_file(real_system(), folder / "none/a", bytes_of("x"), IfExists::refuse);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::no_create);
  CHECK(refused.error().code == "no-such-folder");
  CHECK_THAT(describe(refused.error()), ContainsSubstring("make the output's folder first"));
}

TEST_CASE("a read-only output folder is a matter of permission") {
  if (::geteuid() == 0) {
    // root may write anywhere; what the system would say is checked by its number.
    const Error error = error_from(Errno{EACCES}, "folder/a", "create");
    CHECK(error.kind == ErrorKind::permission);
    return;
  }
  const TempFolder folder;
  std::filesystem::permissions(folder.path(), std::filesystem::perms(0500));
  const Try<void> refused =
      write_file(real_system(), folder / "a", bytes_of("x"), IfExists::refuse);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::permission);
}

TEST_CASE("each number of the system becomes its kind of error") {
  const auto kind = [](int number, const char* doing) {
    return error_from(Errno{number}, "a", doing).kind;
  };
  CHECK(kind(ENOENT, "read") == ErrorKind::no_input);
  CHECK(kind(ENOENT, "create") == ErrorKind::no_create);
  CHECK(kind(ENOTDIR, "create") == ErrorKind::no_create);
  CHECK(kind(EISDIR, "read") == ErrorKind::no_input);
  CHECK(kind(EEXIST, "create") == ErrorKind::no_create);
  for (const int number : {EACCES, EPERM, EROFS}) {
    CHECK(kind(number, "read") == ErrorKind::permission);
    CHECK(kind(number, "create") == ErrorKind::permission);
  }
  for (const int number : {ENOSPC, EDQUOT, EIO, EFBIG, EMFILE}) {
    CHECK(kind(number, "write") == ErrorKind::io);
  }
  CHECK(kind(EIO, "read") == ErrorKind::io);
  CHECK(describe(error_from(Errno{EIO}, "a", "read")) == "a: can't read: input/output error");
  CHECK(describe(error_from(Errno{ENOENT}, "a", "read")) ==
        "a: can't read: no such file or directory (check the name)");
}

TEST_CASE("a missing input and a folder as input are said by name") {
  const TempFolder folder;
  const Try<Bytes> missing = read_file(real_system(), folder / "none", 10);
  REQUIRE_FALSE(missing);
  CHECK(missing.error().kind == ErrorKind::no_input);
  CHECK(missing.error().place.file == (folder / "none").string());
  const Try<Bytes> is_folder = read_file(real_system(), folder.path(), 10);
  REQUIRE_FALSE(is_folder);
  CHECK(is_folder.error().code == "is-a-folder");
  const Try<ReadFile> opened = ReadFile::open(real_system(), folder.path());
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == "is-a-folder");
}

TEST_CASE("a file of the limit's size is read and one byte more is refused") {
  const TempFolder folder;
  test::put_file(folder / "a", "12345");
  CHECK(read_file(real_system(), folder / "a", 5));
  const Try<Bytes> refused = read_file(real_system(), folder / "a", 4);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::bad_data);
  CHECK(refused.error().found == "5 bytes");
  CHECK(refused.error().expected == "at most 4 bytes");
  // A terabyte of nothing is refused by its size, before it is read.
  std::filesystem::resize_file(folder / "a", std::uintmax_t{1} << 40);
  CHECK_FALSE(read_file(real_system(), folder / "a", 1 << 20));
}

TEST_CASE("an endless stream is refused at the limit") {
  const Try<Bytes> refused = read_file(real_system(), "/dev/zero", 100000);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == "file-too-large");
}

TEST_CASE("reading past the end names the offset and both counts") {
  const TempFolder folder;
  test::put_file(folder / "a", "12345");
  const Try<ReadFile> file = ReadFile::open(real_system(), folder / "a");
  REQUIRE(file);
  std::array<std::uint8_t, 4> part{};
  const Try<void> short_read = file->read_at(3, part);
  REQUIRE_FALSE(short_read);
  CHECK(short_read.error().kind == ErrorKind::bad_data);
  CHECK(short_read.error().place.item == "byte offset 3");
  CHECK(short_read.error().found == "2 bytes");
  CHECK(short_read.error().expected == "4 bytes");
  CHECK_FALSE(file->read_at(UINT64_MAX - 1, part));
}

TEST_CASE("holes stay holes and read as zeros") {
  const TempFolder folder;
  constexpr std::uint64_t size = std::uint64_t{1} << 31;
  Try<NewFile> file = NewFile::create(real_system(), folder / "a", IfExists::refuse);
  REQUIRE(file);
  REQUIRE(file->resize(size));
  REQUIRE(file->write_at(size / 2, bytes_of("middle")));
  std::array<std::uint8_t, 8> part{};
  REQUIRE(file->read_at(size / 2 - 1, part));
  CHECK(text_of(part) == std::string_view("\0middle\0", 8));
  REQUIRE(file->commit());
  const Sys<Stat> status = real_system().stat(folder / "a");
  REQUIRE(status);
  CHECK(status->size == size);
  CHECK(status->allocated < (1U << 20));
}

TEST_CASE("sizes that the system can't hold are refused") {
  const TempFolder folder;
  Try<NewFile> file = NewFile::create(real_system(), folder / "a", IfExists::refuse);
  REQUIRE(file);
  CHECK_FALSE(file->resize(UINT64_MAX));
  const Try<void> far = file->write_at(UINT64_MAX - 2, bytes_of("abc"));
  REQUIRE_FALSE(far);
  CHECK(far.error().kind == ErrorKind::io);
  CHECK_FALSE(file->write_at(static_cast<std::uint64_t>(INT64_MAX), bytes_of("abc")));
}

TEST_CASE("a public file loses the umask and a secret one is its owner's alone") {
  const TempFolder folder;
  const mode_t before = ::umask(0027);
  REQUIRE(write_file(real_system(), folder / "public", bytes_of("x"), IfExists::refuse));
  ::umask(0377);
  REQUIRE(
      write_file(real_system(), folder / "secret", bytes_of("x"), IfExists::refuse, mode_secret));
  ::umask(before);
  CHECK(mode_of(folder / "public") == 0640);
  CHECK(mode_of(folder / "secret") == 0600);
}

TEST_CASE("a name as long as the file system allows can be written") {
  const TempFolder folder;
  const std::string name(255, 'n');
  CHECK(write_file(real_system(), folder / name, bytes_of("x"), IfExists::refuse));
  CHECK(test::text_of_file(folder / name) == "x");
  CHECK_FALSE(write_file(real_system(), folder / (name + "n"), bytes_of("x"), IfExists::refuse));
  CHECK(entries(folder) == 1);
}

TEST_CASE("renaming without replacing refuses a name that is taken, either way") {
  const TempFolder folder;
  const auto by_flag = [](const Path& from, const Path& to) {
    return real_system().rename(from, to, false);
  };
  for (int way = 0; way < 2; ++way) {
    test::put_file(folder / "from", "new");
    test::put_file(folder / "to", "old");
    const auto move = [&] {
      return way == 0 ? by_flag(folder / "from", folder / "to")
                      : rename_by_link(folder / "from", folder / "to");
    };
    const Sys<void> taken = move();
    REQUIRE_FALSE(taken);
    CHECK(taken.error().number == EEXIST);
    CHECK(test::text_of_file(folder / "to") == "old");
    CHECK(test::text_of_file(folder / "from") == "new");
    std::filesystem::remove(folder / "to");
    CHECK(move());
    CHECK(test::text_of_file(folder / "to") == "new");
    CHECK_FALSE(std::filesystem::exists(folder / "from"));
  }
}

TEST_CASE("a moved output is still committed once, and removed when given up") {
  const TempFolder folder;
  Try<NewFile> made = NewFile::create(real_system(), folder / "a", IfExists::refuse);
  REQUIRE(made);
  {
    NewFile moved = *std::move(made);
    REQUIRE(moved.write_at(0, bytes_of("x")));
    REQUIRE(moved.commit());
  }
  CHECK(test::text_of_file(folder / "a") == "x");
  CHECK(entries(folder) == 1);
}
