#include "release.h"

#include "job/release_xml.h"
#include "xml/document.h"

namespace cardseal::tool {

Try<job::CompiledRelease> compile_release(const std::string& file, const format::Digest& owner,
                                          bool json) {
  io::System& system = io::real_system();
  xml::All<job::ReleaseFile> release = xml::read_as(system, file, job::read_release);
  if (!release) {
    xml::Errors& errors = release.error();
    for (std::size_t i = 0; i + 1 < errors.size() && !json; ++i) {
      note("cardseal: " + describe(errors[i]));
    }
    return Unexpected(json ? errors.front() : errors.back());
  }
  return job::compile(system, *release, io::Path(file).parent_path(), owner, tool_name);
}

} // namespace cardseal::tool
