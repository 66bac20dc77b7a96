#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "job/summary.h"
#include "package/package.h"
#include "release.h"
#include "words.h"

namespace cardseal::tool {

Ran run_pack(const PackOptions& options) {
  io::System& system = io::real_system();
  TRY(root, seal::read_root(system, options.root));
  TRY(release, compile_release(options.release, root.owner, false));
  if (release.findings.refused()) {
    say(job::list_findings(release.findings) + job::closing_sentence(release.findings));
    return 1;
  }
  TRY(bytes, package::build(release.manifest, release.facts, release.image, release.documents));
  TRY(package, package::open(bytes, options.output));
  if (!options.dry_run) {
    TRY_VOID(io::write_file(system, options.output, bytes, if_exists(options.force)));
  }
  say(fmt::format("package      {}  {}, {} bytes", options.output, release_name(package.manifest),
                  bytes.size()));
  say(fmt::format("fingerprint  {}", seal::spoken(package.manifest_digest)));
  note(options.dry_run ? "dry run: nothing was written"
                       : "next: cardseal sign in role release, then in role quality");
  return 0;
}

} // namespace cardseal::tool
