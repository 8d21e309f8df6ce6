"""Entry made for a phone in one hand: weighing and candling in one screen, marks, notes, what happened, pips and young."""
