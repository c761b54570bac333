package suspects

// aside lists by look what faults do to it beside the signs that they are known by: a spark that comes too seldom wets
// a plug, a slow starter makes a weak pulse. It fills what the rows of the faults leave out, so that a side effect does
// not speak against its fault. Common practice without a published source, the chances our judgement.
var aside = map[string]map[int]odds{
	"engine.worse": {
		wobble: {"at idle": 35, "always": 15}, vane: {"at idle": 25, "always": 25}, polarity: {"at high speed": 30,
			"under load": 20, "always": 20, "while cranking": 15},
		worn: {"always": 15, "now and then": 20}, lash: {"always": 12, "now and then": 18},
		rotor: {"in the wet": 12, "always": 15}, tower: {"always": 45}, tooth: {"always": 30, "while cranking": 20},
		edge: {"always": 35, "while cranking": 20}, stroke: {"always": 35}, chain: {"cold": 8, "at high speed": 20},
		housing: {"always": 15, "while cranking": 12, "at high speed": 12}, lead: {"always": 15, "at high speed": 12},
		crossfire: {"in the wet": 22, "now and then": 25}, noise: {"over bumps": 6, "under load": 15,
			"while cranking": 10},
		brush: {"always": 20, "in the wet": 10, "at high speed": 30}, track: {"now and then": 15},
		wireFire: {"now and then": 12, "cold": 10}, plug: {"at high speed": 15, "in the wet": 10},
		plugWire: {"at high speed": 18, "hot": 8, "now and then": 15}, injector: {"at idle": 20, "hot": 8},
		deadCoil: {"at idle": 15}, coilPolarity: {"cold": 15, "always": 12, "while cranking": 15},
		dwell: {"hot": 18, "always": 12, "while cranking": 15, "cold": 8}, drop: {"now and then": 22, "over bumps": 10,
			"in the wet": 8, "cold": 8},
		ballast: {"cold": 8, "always": 8}, charging: {"always": 8}, supply: {"under load": 10, "now and then": 10},
		setUp: {"always": 40, "while cranking": 20, "at high speed": 18}, gap: {"now and then": 18, "at idle": 10},
		camEdge: {"cold": 10, "under load": 8}, camNoise: {"while cranking": 10}, connector: {"cold": 6,
			"under load": 12},
		fuel: {"always": 15, "at idle": 18}, cylinderOne: {"always": 35}, advance: {"at idle": 12, "always": 12,
			"now and then": 15},
		pickup: {"hot": 8, "always": 30}, camPickup: {"hot": 8, "always": 30}, leads: {"always": 35},
		heat: {"under load": 12}},
	"engine.backfire": {
		camEdge: {"intake": 12, "exhaust": 22}, camNoise: {"intake": 12, "exhaust": 22},
		setUp: {"intake": 22, "exhaust": 22}, noise: {"intake": 14, "exhaust": 14},
		crossfire: {"intake": 20, "exhaust": 12}, chain: {"intake": 14, "exhaust": 8}, connector: {"exhaust": 18},
		heat: {"exhaust": 10}, plug: {"exhaust": 10}, plugWire: {"exhaust": 14}, drop: {"exhaust": 10},
		brush: {"intake": 5, "exhaust": 14}, coilPolarity: {"exhaust": 10}, dwell: {"exhaust": 10},
		ballast: {"exhaust": 8}, deadCoil: {"exhaust": 16}, gap: {"exhaust": 8}, housing: {"exhaust": 8, "intake": 6},
		lead: {"exhaust": 8, "intake": 6}, charging: {"exhaust": 6}, polarity: {"exhaust": 6}},
	"engine.vacuum": {
		housing: {"low": 18}, lead: {"low": 18}, edge: {"low": 35, "flicks": 8}, tooth: {"low": 35, "flicks": 8},
		polarity: {"low": 20}, wires: {"flicks": 50, "low": 15}, tower: {"flicks": 30, "low": 30},
		orderTable: {"flicks": 40, "low": 12}, track: {"flicks": 35}, wireFire: {"flicks": 20}, rotor: {"flicks": 20},
		brush: {"flicks": 15, "low": 10}, noise: {"flicks": 14}, crossfire: {"flicks": 12}, camNoise: {"flicks": 12},
		connector: {"flicks": 10}, worn: {"flicks": 12}, lash: {"flicks": 10}, vane: {"flicks": 10},
		wobble: {"flicks": 8}, setUp: {"flicks": 18, "low": 18}, cylinderOne: {"low": 25, "flicks": 15},
		deadCoil: {"flicks": 20}, advance: {"low": 5}},
	"engine.running": {
		worn: {"runs rough": 35}, lash: {"runs rough": 22}, polarity: {"will not rev": 12, "runs rough": 10},
		misread: {"fine": 92}},
	"engine.compressions": {stroke: {"one low": 3}, fuel: {"one low": 4}},
	"engine.hot_to_touch": {coilPolarity: {"coil": 8}, charging: {"feed wire": 5}, connector: {"feed wire": 5},
		fuel: {"coil": 4}},
	"battery.crank_pickup": {setUp: {"has no power": 10}, connector: {"has no power": 10}, drop: {"has no power": 4},
		leads: {"has no power": 2}},
	"battery.cam_pickup":   {connector: {"has no power": 6}, drop: {"has no power": 3}},
	"battery.coil":         {connector: {"low": 9}, charging: {"low": 14}, deadCoil: {"low": 5}},
	"battery.coil_running": {supply: {"low": 14}, connector: {"low": 12}},
	"battery.feed_drop":    {charging: {"high": 8}, supply: {"high": 7}, ballast: {"high": 30}, heat: {"high": 6}},
	"battery.ground_drop": {noise: {"high": 25}, camNoise: {"high": 20}, crossfire: {"high": 12},
		connector: {"high": 12}, supply: {"high": 7}},
	"battery.fuse": {connector: {"blown": 4}, drop: {"blown": 3}, fuel: {"blown": 3}},
	"controller.speed": {supply: {"jumps": 30, "none": 4}, drop: {"jumps": 18, "none": 4}, ballast: {"jumps": 4},
		charging: {"jumps": 6}, worn: {"jumps": 7}, lash: {"jumps": 6}, vane: {"jumps": 7}, camPickup: {"jumps": 5},
		edge: {"jumps": 5}},
	"controller.errors": {supply: {"few": 25, "many": 4}, worn: {"few": 18}, lash: {"few": 14}, polarity: {"few": 22,
		"many": 8}, charging: {"few": 15}, vane: {"few": 14}, edge: {"few": 12}, pickup: {"few": 15, "many": 10},
		camPickup: {"few": 20, "many": 12}, chain: {"few": 10}, wobble: {"few": 10}},
	"controller.sync_losses": {supply: {"some": 25}, polarity: {"some": 15}, charging: {"some": 15}, worn: {"some": 10},
		lash: {"some": 9}, chain: {"some": 12}, pickup: {"some": 15}, tooth: {"some": 12}},
	"capture.sync": {polarity: {"lost": 15}, supply: {"lost": 18}, drop: {"lost": 12}, heat: {"lost": 16, "none": 5},
		charging: {"lost": 8}, chain: {"lost": 10}, tooth: {"lost": 8}, worn: {"lost": 6}},
	"capture.crank_edges": {polarity: {"another number": 6}, supply: {"another number": 10}, heat: {"0": 12,
		"another number": 8}, drop: {"another number": 5}, setUp: {"another number": 10}},
	"capture.extra_edges": {drop: {"few": 14}, connector: {"few": 25, "many": 5}, camNoise: {"few": 8},
		heat: {"few": 8}, polarity: {"few": 10}, gap: {"few": 10}, supply: {"few": 8}, setUp: {"few": 10, "many": 5}},
	"capture.scatter": {noise: {"some": 25, "large": 25}, crossfire: {"some": 25, "large": 20}, polarity: {"some": 30},
		advance: {"some": 35, "large": 8}, chain: {"some": 40, "large": 8}, wobble: {"some": 12},
		connector: {"some": 12, "large": 5}, gap: {"some": 12}, vane: {"some": 8}, heat: {"some": 6}},
	"capture.swing":    {worn: {"some": 35, "large": 15}, lash: {"some": 12, "large": 3}, vane: {"some": 20}},
	"capture.vane":     {worn: {"one off": 4}, wobble: {"one off": 6}},
	"coil.spark":       {charging: {"weak": 20}, heat: {"weak": 8, "none": 10}},
	"coil.lost":        {plugWire: {"weaker": 25}, wireFire: {"weaker": 15}, tooth: {"weaker": 15}},
	"spark":            {rotor: {"weak": 35}, tooth: {"weak": 14}, charging: {"weak": 20}, wireFire: {"weak": 10}},
	"coil.trigger":     {heat: {"none": 14}, supply: {"none": 5}, drop: {"none": 5}},
	"coil.secondary":   {heat: {"open": 6}},
	"cylinders.spark":  {rotor: {"weak": 35, "none": 4}, tooth: {"weak": 14}, charging: {"weak": 20}},
	"cylinders.jump":   {rotor: {"short": 40}, tooth: {"short": 14}, charging: {"short": 18}, heat: {"short": 10}},
	"cylinders.colour": {rotor: {"yellow": 40}, tooth: {"yellow": 16}, wireFire: {"yellow": 15}},
	"cylinders.wire":   {crossfire: {"high": 14}, noise: {"high": 7}, track: {"high": 8}},
	"cylinders.cut_drop": {dwell: {"little": 12}, coilPolarity: {"little": 12}, drop: {"little": 9},
		fuel: {"little": 9}, brush: {"little": 12}},
	"cylinders.plug": {wires: {"wet": 30, "sooty": 14}, tower: {"wet": 40, "sooty": 10}, stroke: {"wet": 45},
		cylinderOne: {"wet": 40, "sooty": 10}, deadCoil: {"wet": 45}, brush: {"wet": 35, "sooty": 12},
		edge: {"wet": 12, "sooty": 10}, tooth: {"wet": 15, "sooty": 8}, leads: {"wet": 15}, pickup: {"wet": 15},
		camPickup: {"wet": 20}, setUp: {"wet": 22}, gap: {"wet": 18}, supply: {"wet": 22, "sooty": 8},
		camEdge: {"wet": 15}, connector: {"wet": 12}, coilPolarity: {"sooty": 20, "wet": 8},
		drop: {"sooty": 16, "wet": 8}, ballast: {"sooty": 16, "wet": 6}, dwell: {"wet": 6},
		rotor: {"sooty": 12, "wet": 6}, track: {"sooty": 14, "wet": 12}, chain: {"sooty": 12},
		charging: {"sooty": 9}, heat: {"wet": 6}},
	"cylinders.moves_with":  {wires: {"wire": 18}, rotor: {"nothing": 90}},
	"cylinders.compression": {chain: {"low": 40}},
	"pickup.crank_pulse": {supply: {"weak": 25}, polarity: {"weak": 8}, connector: {"weak": 14}, heat: {"weak": 12},
		leads: {"weak": 12}, noise: {"weak": 6}},
	"pickup.cam_pulse": {supply: {"weak": 16}, camEdge: {"weak": 7}, camNoise: {"weak": 7}, connector: {"weak": 8},
		leads: {"weak": 10}},
	"pickup.crank_gap": {pickup: {"wide": 7}, worn: {"wide": 7}, wobble: {"wide": 10}, vane: {"wide": 8}},
	"pickup.cam_gap":   {camPickup: {"wide": 8}, camEdge: {"wide": 7}, camNoise: {"wide": 6}},
	"pickup.screen":    {connector: {"broken": 12}, polarity: {"broken": 6}},
	"pickup.plug": {heat: {"loose": 6}, noise: {"loose": 10}, camNoise: {"loose": 9}, drop: {"loose": 14},
		polarity: {"loose": 4}, deadCoil: {"loose": 5}},
	"fuel.mixture": {plug: {"lean": 15, "rich": 6}, plugWire: {"lean": 15}, wires: {"lean": 15, "rich": 8},
		track: {"lean": 12}, deadCoil: {"lean": 14}, wireFire: {"lean": 10}, rotor: {"lean": 10}, brush: {"lean": 10},
		chain: {"rich": 8}, coilPolarity: {"rich": 9}, dwell: {"rich": 9}, drop: {"rich": 9}, fuel: {"lean": 50}},
	"housing.travel": {housing: {"at its end": 8}, chain: {"at its end": 20}, edge: {"at its end": 12},
		lead: {"at its end": 5}, rotor: {"at its end": 6}},
	"housing.advance_plate": {worn: {"free": 8}, wobble: {"free": 6}, lash: {"free": 5}},
	"rotor.tip": {track: {"burnt": 12}, plugWire: {"burnt": 10}, crossfire: {"burnt": 14}, tooth: {"burnt": 14},
		advance: {"burnt": 12}, wires: {"burnt": 7}},
	"rotor.resistance": {rotor: {"high": 8}},
	"rotor.from_crank": {wobble: {"some": 14}},
	"rotor.points_to":  {cylinderOne: {"1": 60}},
	"cap.brush":        {rotor: {"worn": 5}, track: {"worn": 4}},
	"cap.inside": {connector: {"damp": 9}, plugWire: {"damp": 12}, wireFire: {"damp": 12},
		crossfire: {"damp": 12}},
	"cap.traces": {advance: {"off centre": 35}, wireFire: {"tracks between towers": 4}, chain: {"off centre": 25},
		cylinderOne: {"off centre": 4}, worn: {"off centre": 9}, wobble: {"off centre": 8},
		plugWire: {"track to ground": 4}},
	"cap.wires": {wireFire: {"wrong": 4}, plugWire: {"wrong": 3}},
	"light.flashes": {polarity: {"steady": 72, "spread": 22}, drop: {"steady": 78, "comes and goes": 15},
		charging: {"steady": 80, "comes and goes": 13}, supply: {"steady": 76, "comes and goes": 14, "none": 4},
		ballast: {"steady": 80, "comes and goes": 12}, coilPolarity: {"steady": 80, "comes and goes": 13},
		fuel: {"steady": 95}},
	"compression": {tooth: {"not felt": 4}, chain: {"not felt": 4}},
}

// asideMine is the same of the cylinder that a fault sits on.
var asideMine = map[string]map[int]odds{
	"cylinders.plug":       {track: {"wet": 30, "sooty": 22}, wireFire: {"sooty": 14, "wet": 8}},
	"cylinders.moves_with": {wireFire: {"wire": 40, "nothing": 52}},
	"cylinders.colour":     {track: {"yellow": 30}},
	"cylinders.spark":      {wireFire: {"weak": 12}},
	"cylinders.jump":       {wireFire: {"short": 14}},
}

// fill adds what stands aside: a row that names a look already keeps its own words.
func fill(t *[faultCount]fault) {
	for _, x := range []struct {
		from map[string]map[int]odds
		to   func(f *fault) *map[string]odds
	}{{aside, func(f *fault) *map[string]odds { return &f.shows }},
		{asideMine, func(f *fault) *map[string]odds { return &f.mine }}} {
		for key, rows := range x.from {
			for k, o := range rows {
				to := x.to(&t[k])
				*to = with(*to, map[string]odds{key: with(o, (*to)[key])})
			}
		}
	}
	dead := odds{"little": 92} // a cylinder cut of an engine that does not run
	for k := range t {
		if t[k].stops && k >= benchFaults {
			t[k].shows = with(t[k].shows, map[string]odds{"cylinders.cut_drop": dead})
		}
		for i := range t[k].ways {
			if w := &t[k].ways[i]; w.shows["engine.running"]["does not run"] > 50 {
				w.shows = with(w.shows, map[string]odds{"cylinders.cut_drop": dead})
			}
		}
	}
}
