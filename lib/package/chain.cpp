#include "package/chain.h"

#include <algorithm>

#include "crypto/sha256.h"

namespace cardseal::package {

io::Bytes make_chain(ByteView image) {
  const std::size_t count = format::block_count(static_cast<std::uint32_t>(image.size()));
  io::Bytes chain(32 * count);
  crypto::Digest following{};
  for (std::size_t i = count; i-- > 0;) {
    const std::size_t at = i * format::chain_block;
    crypto::Sha256 sha;
    sha.update(image.subspan(at, std::min(format::chain_block, image.size() - at)));
    sha.update(following);
    following = sha.finish();
    std::copy(following.begin(), following.end(),
              chain.begin() + static_cast<std::ptrdiff_t>(32 * i));
  }
  return chain;
}

} // namespace cardseal::package
