// The cards of a lot that carry numbers of one package.
#pragma once

#include "lot_units.h"

namespace cardseal::tool {

// `ids`: only these; empty: all. Refused: card-other, label-none (none has numbers).
Try<std::vector<const lot::CardAccount*>> numbered_cards(const lot::Account& account,
                                                         const package::Package& package,
                                                         const std::vector<std::string>& ids);

} // namespace cardseal::tool
