#include "job/compile.h"

#include "job/checks.h"
#include "job/sealed_texts.h"

namespace cardseal::job {
namespace {

std::vector<image::NamedRange> regions_of(const profile::Device& device) {
  std::vector<image::NamedRange> out;
  for (const profile::Region& region : device.regions) {
    out.push_back({region.id, {region.address, region.size}});
  }
  return out;
}

} // namespace

xml::All<CompiledRelease> compile(io::System& system, const ReleaseFile& release,
                                  const io::Path& folder, const format::Digest& owner,
                                  std::string_view tool) {
  xml::All<Inputs> inputs = read_inputs(system, release, folder);
  if (!inputs) {
    return Unexpected(std::move(inputs).error());
  }
  Findings findings;
  check_firmware(release, *inputs, findings);
  check_device(release, *inputs, findings);
  check_configuration(release, *inputs, findings);
  check_previous(release, *inputs, findings);
  check_supply(release, *inputs, findings);
  check_verify(release, *inputs, findings);
  check_abilities(release, *inputs, findings);
  check_fit(release, *inputs, findings);
  check_work(release, *inputs, findings);
  check_serial(release, *inputs, findings);
  check_limits(release, *inputs, findings);
  check_sources(*inputs, findings);
  check_times(release, *inputs, findings);
  apply_deviations(release, findings);
  CompiledRelease out;
  out.manifest = manifest_of(release, *inputs, owner);
  out.facts = facts_of(release, *inputs, owner, findings, tool);
  out.image = std::move(inputs->firmware.firmware.image);
  out.documents = std::move(inputs->documents);
  out.regions = regions_of(inputs->device);
  out.findings = std::move(findings);
  return out;
}

} // namespace cardseal::job
