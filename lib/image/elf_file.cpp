#include "image/elf_file.h"

#include <gelf.h>
#include <libelf.h>

#include <memory>

#include "image/record_text.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

struct EndElf {
  void operator()(Elf* elf) const { elf_end(elf); }
};
using Handle = std::unique_ptr<Elf, EndElf>;

Error problem(const std::string& file, const char* code, const char* what) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = what;
  error.place.file = file;
  error.hint = get_again;
  return error;
}

Error libelf_says(const std::string& file, const char* what) {
  Error error = problem(file, "elf-header", what);
  const int why = elf_errno();
  error.found = why == 0 ? "a header that is none" : elf_errmsg(why);
  error.expected = "an ELF file of version 1, 32 or 64 bits, either byte order";
  return error;
}

std::string spell(const FileRange& range) {
  return spell_count(range.length, "byte") + " at file offset " + spell_address(range.offset);
}

class FileReader {
public:
  FileReader(ByteView bytes, const std::string& file) : bytes_(bytes), file_(file) {}

  Try<ElfFile> read() {
    if (elf_version(EV_CURRENT) == EV_NONE) {
      return Unexpected(libelf_says(file_, "libelf does not know this version of ELF"));
    }
    elf_errno(); // forgets what an earlier file left
    // libelf takes the bytes as they are and writes to them only when told to.
    auto* start = const_cast<std::uint8_t*>(bytes_.data()); // NOLINT(*-const-cast)
    elf_.reset(elf_memory(reinterpret_cast<char*>(start), bytes_.size()));
    if (!elf_ || elf_kind(elf_.get()) != ELF_K_ELF ||
        gelf_getehdr(elf_.get(), &header_) == nullptr) {
      return Unexpected(libelf_says(file_, "the ELF header can't be read"));
    }
    out_.wide = gelf_getclass(elf_.get()) == ELFCLASS64;
    out_.entry = header_.e_entry;
    for (auto part : {&FileReader::check_type, &FileReader::measure_tables,
                      &FileReader::read_segments, &FileReader::read_sections}) {
      if (auto done = (this->*part)(); !done) {
        return Unexpected(std::move(done).error());
      }
    }
    return std::move(out_);
  }

private:
  bool fits(const FileRange& range) const {
    return range.offset <= bytes_.size() && range.length <= bytes_.size() - range.offset;
  }

  Error truncated(const FileRange& range, const std::string& what) const {
    Error error = problem(file_, "elf-truncated", "file ends before something that it names");
    error.place.item = what;
    error.found = spell_count(bytes_.size(), "byte") + " in the file";
    error.expected = spell(range);
    return error;
  }

  Try<void> check_type() {
    if (header_.e_type == ET_EXEC) {
      return {};
    }
    Error error = problem(file_, "elf-type", "file is no linked program with final addresses");
    error.found = header_.e_type == ET_REL    ? "an object file"
                  : header_.e_type == ET_DYN  ? "a shared object or position-independent program"
                  : header_.e_type == ET_CORE ? "a memory dump"
                                              : "type " + std::to_string(header_.e_type);
    error.expected = "an executable file, type 2";
    error.hint = "take the file that the linker writes for programming";
    return Unexpected(std::move(error));
  }

  // Tables of more than 65,535 entries keep their number in section header 0 (gABI, chapter 4).
  Try<void> measure_tables() {
    section_count_ = header_.e_shnum;
    segment_count_ = header_.e_phnum;
    out_.headers.push_back({0, out_.wide ? sizeof(Elf64_Ehdr) : sizeof(Elf32_Ehdr)});
    const std::uint64_t section_size = out_.wide ? sizeof(Elf64_Shdr) : sizeof(Elf32_Shdr);
    const std::uint64_t segment_size = out_.wide ? sizeof(Elf64_Phdr) : sizeof(Elf32_Phdr);
    if (header_.e_shoff != 0 && (section_count_ == 0 || segment_count_ == PN_XNUM)) {
      GElf_Shdr first{};
      if (!fits({header_.e_shoff, section_size})) {
        return Unexpected(truncated({header_.e_shoff, section_size}, "section headers"));
      }
      if (gelf_getshdr(elf_getscn(elf_.get(), 0), &first) == nullptr) {
        return Unexpected(libelf_says(file_, "section header 0 can't be read"));
      }
      section_count_ = section_count_ == 0 ? first.sh_size : section_count_;
      segment_count_ = segment_count_ == PN_XNUM ? first.sh_info : segment_count_;
    }
    section_count_ = header_.e_shoff == 0 ? 0 : section_count_;
    segment_count_ = header_.e_phoff == 0 ? 0 : segment_count_;
    if (auto done = measure(segment_count_, header_.e_phoff, header_.e_phentsize, segment_size,
                            most_program_headers, "program headers");
        !done) {
      return done;
    }
    return measure(section_count_, header_.e_shoff, header_.e_shentsize, section_size,
                   most_section_headers, "section headers");
  }

  Try<void> measure(std::uint64_t count, std::uint64_t offset, std::uint64_t stated_size,
                    std::uint64_t entry_size, std::uint64_t most, const char* what) {
    if (count == 0) {
      return {};
    }
    if (stated_size != entry_size) {
      Error error = problem(file_, "elf-table", "table has entries of another size");
      error.place.item = what;
      error.found = spell_count(stated_size, "byte");
      error.expected = std::to_string(entry_size);
      return Unexpected(std::move(error));
    }
    if (count > most) {
      Error error = problem(file_, "elf-too-many", "table has too many entries");
      error.place.item = what;
      error.found = std::to_string(count);
      error.expected = "at most " + std::to_string(most);
      return Unexpected(std::move(error));
    }
    const FileRange table{offset, count * entry_size};
    if (!fits(table)) {
      return Unexpected(truncated(table, what));
    }
    out_.headers.push_back(table);
    return {};
  }

  Try<void> read_segments() {
    out_.any_program_header = segment_count_ != 0;
    for (std::uint64_t index = 0; index < segment_count_; ++index) {
      GElf_Phdr header{};
      if (gelf_getphdr(elf_.get(), static_cast<int>(index), &header) == nullptr) {
        return Unexpected(libelf_says(file_, "a program header can't be read"));
      }
      out_.any_physical_address = out_.any_physical_address || header.p_paddr != 0;
      out_.memory_segments += header.p_type == PT_LOAD && header.p_memsz != 0 ? 1U : 0U;
      if (header.p_type != PT_LOAD || header.p_filesz == 0) {
        continue;
      }
      const std::string item = "program header " + std::to_string(index);
      const FileRange range{header.p_offset, header.p_filesz};
      if (!fits(range)) {
        return Unexpected(truncated(range, item));
      }
      if (header.p_filesz > header.p_memsz) {
        Error error = problem(file_, "elf-segment", "load segment is larger than its memory");
        error.place.item = item;
        error.found = spell_count(header.p_filesz, "byte");
        error.expected = "at most " + std::to_string(header.p_memsz);
        return Unexpected(std::move(error));
      }
      out_.segments.push_back({range, header.p_vaddr, header.p_paddr});
    }
    return {};
  }

  Try<void> read_sections() {
    out_.any_section_header = section_count_ != 0;
    std::size_t names = 0;
    const bool named = section_count_ != 0 && elf_getshdrstrndx(elf_.get(), &names) == 0;
    for (std::uint64_t index = 1; index < section_count_; ++index) {
      GElf_Shdr header{};
      Elf_Scn* section = elf_getscn(elf_.get(), index);
      if (section == nullptr || gelf_getshdr(section, &header) == nullptr) {
        return Unexpected(libelf_says(file_, "a section header can't be read"));
      }
      if ((header.sh_flags & SHF_ALLOC) == 0 || header.sh_type == SHT_NOBITS ||
          header.sh_type == SHT_NULL || header.sh_size == 0) {
        continue;
      }
      const char* found = named ? elf_strptr(elf_.get(), names, header.sh_name) : nullptr;
      std::string name = found == nullptr ? "section " + std::to_string(index) : found;
      const FileRange range{header.sh_offset, header.sh_size};
      if (!fits(range)) {
        return Unexpected(truncated(range, "section " + name));
      }
      out_.sections.push_back({std::move(name), range, header.sh_addr});
    }
    return {};
  }

  ByteView bytes_;
  const std::string& file_;
  Handle elf_;
  GElf_Ehdr header_{};
  std::uint64_t segment_count_ = 0;
  std::uint64_t section_count_ = 0;
  ElfFile out_;
};

} // namespace

Try<ElfFile> read_elf_file(ByteView bytes, const std::string& file) {
  return FileReader(bytes, file).read();
}

} // namespace cardseal::image
