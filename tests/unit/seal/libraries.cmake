set(test_libraries cardseal_card_kit)
