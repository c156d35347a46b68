"""The usual cautions of the trade, in one place. Common practice; local codes and licensed people decide."""

HEARING = (
    "Protect ears and loudspeakers: every monitor and headphone path shut before phantom, patching or power. "
    "Turn headphones down before anybody puts them on."
)
VALVE = (
    "Valve gear: hot, and a dangerous charge stays after unplugging. Never open it; that is for a qualified "
    "person. Let it cool before moving it."
)
MAINS = (
    "Never lift a protective earth to stop hum. Report a damaged plug or lead and don't use it; local rules "
    "and a licensed electrician decide."
)
CIRCUIT = (
    "More than 80 % of a circuit for hours can overheat it or trip its breaker: spread the load over other circuits, "
    "what draws most first. Local code and a licensed electrician decide."
)
TRIP = "Keep walkways and doors clear of cables; cover or fix what must cross."
TALL_STAND = "Tall booms tip: counterweight or sandbag on before the microphone, and nobody walks under it."
LIFT = "Two people for what is heavy or awkward; bend knees, not back."
LIVE_PATCH = "Never patch a live microphone line: phantom off and drained first."
STAYS_OFF = "A ribbon or an unbalanced source can be harmed by phantom, above all while it is plugged in."
