"""Where to look, and what to look for, for every objective: the first two steps of help."""

HINTS = {
    "R1": ("Go round the drawing once and name each symbol aloud.", "The legend below the drawing tells each symbol."),
    "R2": ("Start at a boiler's outlet and follow the water.", "Supply lies between a boiler and a load, return "
           "between a load and a boiler."),
    "R3": ("Look where the boilers' pipes and the loads' pipes come together.",
           "A vessel there has four pipes; tees there have only a short pipe between them."),
    "R4": ("Ask whose pump moves water through that pipe.", "A bypass joins supply and return of one and the same loop."),
    "R5": ("Find the place where two loops meet, if there is one.", "A pump moves the loop that it stands in; a "
           "separation passes no pressure on."),
    "R6": ("Look for a coil or a plate exchanger, out on the building's pipes too.", "A buffer tank has four pipes and no "
           "coil; it heats no DHW by itself."),
    "R7": ("Trace the coil's two pipes to where they join.", "Where the tank stands, and whether it has a pump, tells "
           "nothing."),
    "R8": ("Count the parts with a burner, and look for the lead mark.", "The lead is the boiler that is marked, wherever it "
           "stands."),
    "R9": ("Note in which order the boilers' water meets on its way out.", "Then follow it home: the same order is direct, "
           "the opposite order is reverse."),
    "C1": ("Is there DHW to heat, and where does its coil lie?", "'On the boiler loop' is a name that needs two loops."),
    "C2": ("What becomes of the building's heat while the tank calls?", "Look for a pump that stops, or for a valve that "
           "turns all the water."),
    "C3": ("Ask which water each sensor is in.", "The supply sensor stands beyond the point where the waters meet, before the "
           "first load."),
    "C4": ("Ask whom the part serves: a boiler, a whole loop, the tank or one zone.", "The piping tells the job, never the "
           "symbol alone."),
    "C5": ("Who could be harmed by a cooler supply?", "Look at the sensor, at each boiler, and at each load with a "
           "temperature of its own."),
    "F1": ("Say first which loop the coil is on.", "On the boiler loop the system pump stops on a DHW call; on the system loop "
           "it runs."),
    "F2": ("Say first what the control does when it is told so.", "Then follow the water that those pumps move."),
    "F3": ("Which of the two pumps moves the boiler loop?", "The common pipe carries the difference of the two flows."),
    "F4": ("Who called for heat?", "What is left goes where it can do no harm, never into a low-temperature zone."),
    "F5": ("Which of the two pumps moves the boiler loop?",
           "Where that loop carries more than the system takes, hot supply comes "
           "back with the return."),
    "J1": ("Look at each boiler's relief valve, then at the expansion tank's branch.", "Nothing may shut a relief valve off; the "
           "expansion tank joins a pump's inlet."),
    "J2": ("What closes each boiler while it rests?", "Then shut all boilers, and all zones: has the pump a way round?"),
    "J3": ("Switch each pump off in mind: what still closes its branch?", "Forwards a check valve opens when another pump "
           "pushes."),
    "J4": ("The store must be hot enough to keep bacteria down.", "So the taps are guarded by a valve, not by a cooler store."),
    "J5": ("Look at the arrows of pumps and check valves.", "Then look at the place where the loops meet."),
    "P1": ("First whatever keeps people safe, then water, then fire.", "Nothing fires before the safeties were tested."),
    "P2": ("What must be mended, and what is still open?", "What cannot be told from the drawing is never guessed."),
}
"""For each objective the first two steps; the third lights up the place."""
