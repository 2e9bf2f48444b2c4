package store

// DefaultSteps is the list that a model has until the shop writes its own. It
// holds no torque, no clearance and no tool: those are the maker's. Its order
// and cautions are common practice without a source, in our own words; that a
// second person takes the weight, that numbers face forward, that gaps are
// staggered, that each flange gets one new seal and that nuts are drawn down in
// two passes is also in FAA-H-8083-32, removal and installation of cylinders.
var DefaultSteps = []JobStep{
	{Phase: "removal", Text: "The maker's current manual for this engine lies open; where it differs from this list, it prevails"},
	{Phase: "removal", Text: "Ignition off and both sides grounded, battery off, fuel off, keys with the person who works", Caution: "Treat the propeller as live as long as it can turn."},
	{Phase: "removal", Text: "Propeller restrained, tail or wheels held, nobody in its arc"},
	{Phase: "removal", Text: "Sump drained, and the lower cylinders drained through a plug hole before anything is turned", Caution: "Hydraulic lock: oil above a lower piston bends a rod. Never force the propeller, and never turn it backwards to get past."},
	{Phase: "removal", Text: "Ignition leads, baffles, intake pipe and exhaust off; openings covered and every fastener tagged with the position", Each: true},
	{Phase: "removal", Text: "Rocker cover off; push rods and their tubes out and put down in the places numbered for them", Caution: "A push rod goes back to the valve and the end it came from.", Each: true},
	{Phase: "removal", Text: "Crank turned until this piston stands at top dead centre, found by the piston and not by the pointer alone", Caution: "At top dead centre the rings stay in the barrel and out of the crankcase.", Each: true},
	{Phase: "removal", Text: "Both plugs out just before the cylinder is pulled", Each: true},
	{Phase: "removal", Text: "Hold-down nuts off, the last two on opposite sides while somebody holds the cylinder", Caution: "A cylinder is heavy. It comes straight off its studs, not down on them.", Each: true},
	{Phase: "removal", Text: "Second person catches piston and rod as the skirt leaves the barrel", Caution: "A falling rod hurts hands, nicks itself and cracks the skirt.", Each: true},
	{Phase: "removal", Text: "Crankcase opening covered at once, rod padded and held off the case", Each: true},
	{Phase: "removal", Text: "Where it is the master rod: rod held in the middle of its opening, and a sign on the propeller that the crank is not turned", Caution: "Link pistons drop, their lowest rings spring out under the skirts, and the next turn breaks ring or piston.", Each: true},
	{Phase: "removal", Text: "Piston pin out without a blow on the rod; piston, pin, rings and cylinder kept together under the number of their position", Each: true},

	{Phase: "bench", Text: "Condition written down and photographed before anything is cleaned: deposits, scores, colour, stuck rings", Each: true},
	{Phase: "bench", Text: "Cleaned with what the manual allows, rings off by a spreader, grooves cleaned without cutting their sides", Each: true},
	{Phase: "bench", Text: "Head, flange, fins, bosses and ports looked over for cracks, and tested as the manual says", Caution: "Measuring finds no cracks.", Each: true},
	{Phase: "bench", Text: "Barrel, piston, grooves, rings, pin, guides and stems measured at room temperature and entered", Each: true},
	{Phase: "bench", Text: "Hold-down studs, nuts and locking parts inspected; whatever is stretched, nicked or rusted replaced", Caution: "A stud that is left loose or stretched lets the flange work and loses the cylinder.", Each: true},
	{Phase: "bench", Text: "Flange and case pad clean, flat and free of nicks and paint", Each: true},
	{Phase: "bench", Text: "Rod checked for nicks and for play in its bushing", Each: true},
	{Phase: "bench", Text: "Every part has its disposition, and work done on it is entered"},
	{Phase: "bench", Text: "End gap of each ring tried in the barrel it will run in", Caution: "A gap that closes when hot breaks the ring or scores the barrel.", Each: true},

	{Phase: "refit", Text: "Order of refitting settled, with the master-rod cylinder first"},
	{Phase: "refit", Text: "Rings on in their order, each the right way up", Caution: "A scraper fitted upside down pumps oil.", Each: true},
	{Phase: "refit", Text: "Ring gaps staggered as the manual shows", Each: true},
	{Phase: "refit", Text: "Piston on its own rod with the number mark to the front, pin oiled, its plugs or retainers in", Each: true},
	{Phase: "refit", Text: "One new seal on the flange, dry or dressed as the manual says, and no old one left on the pad", Caution: "Two seals or none change the clamping and the nuts come loose.", Each: true},
	{Phase: "refit", Text: "Piston at top dead centre; barrel, rings and pin oiled with clean oil", Each: true},
	{Phase: "refit", Text: "Rings held by a ring compressor, cylinder slid on square with a second person, nothing forced", Caution: "A ring that catches on the barrel's edge breaks without a sound.", Each: true},
	{Phase: "refit", Text: "Hold-down nuts run up by hand in the order of the manual, then drawn down: first pass", Each: true},
	{Phase: "refit", Text: "Hold-down nuts drawn down: second pass to the full torque, in the order of the manual", Caution: "Type what the wrench was set to and its number.", Each: true},
	{Phase: "refit", Text: "Nuts locked, and every locking looked at by a second person", Each: true},
	{Phase: "refit", Text: "Push rods and tubes back in their numbered places, tube seals new", Each: true},
	{Phase: "refit", Text: "Rocker clearance set as the manual says", Each: true},
	{Phase: "refit", Text: "Intake and exhaust on with new gaskets, and their nuts drawn down", Each: true},
	{Phase: "refit", Text: "Plugs, leads and baffles on", Each: true},
	{Phase: "refit", Text: "Tools, rags and plugs of openings counted: none left in the engine"},
	{Phase: "refit", Text: "Crank turned by hand, in its direction, two full turns with one plug out of each cylinder", Caution: "Stop at the first resistance and find out why."},

	{Phase: "after", Text: "Oil filled, and brought up to the bearings as the manual says before the first start"},
	{Phase: "after", Text: "First run and break-in as the manual says: pressures, temperatures and speeds written down", Caution: "Nobody in the propeller's arc; fire extinguisher at hand."},
	{Phase: "after", Text: "No leak of oil, fuel, intake or exhaust after the run"},
	{Phase: "after", Text: "Differential compression test, warm", Caution: "Air can spin the propeller: hold it, and stay clear of its arc."},
	{Phase: "after", Text: "Hold-down torque looked at again as the manual says, after the run and after the first hours", Each: true},
	{Phase: "after", Text: "Oil screen or filter opened after the first hours, oil use noted"},
}
