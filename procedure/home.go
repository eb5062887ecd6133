package procedure

// Tri is a fact that a tester may not know. The zero value is "not known".
type Tri string

// Append-only: these reach records.
const (
	Unknown Tri = ""
	Yes     Tri = "yes"
	No      Tri = "no"
)

// Not turns yes into no and back; what is not known stays so.
func (t Tri) Not() Tri {
	switch t {
	case Yes:
		return No
	case No:
		return Yes
	}
	return Unknown
}

// Phase says when in the job the test is made.
type Phase string

// Append-only.
const (
	TestIn  Phase = "test-in"  // before any sealing
	Daily   Phase = "daily"    // end of a working day
	TestOut Phase = "test-out" // when the work is finished
)

// HomeKind says what the home is. The zero value is "not known".
type HomeKind string

// Append-only.
const (
	DetachedHouse  HomeKind = "house"
	MobileHome     HomeKind = "mobile-home"      // manufactured, on a frame
	PartOfBuilding HomeKind = "part-of-building" // row house, duplex, apartment
)

// HomeKinds in screen order. Append-only: sheets carry the numbers.
var HomeKinds = []HomeKind{DetachedHouse, MobileHome, PartOfBuilding}

// Zone is a combustion appliance zone: a space with fuel-burning appliances
// whose pressure can differ from the rest of the house.
type Zone struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Door Tri    `json:"door,omitempty"` // a door between it and the house that can be open or shut: the CAZ door
	// Louvred: the door passes air, so the zone takes in the space beside it.
	Louvred Tri `json:"louvred,omitempty"`
	// Volume of the space in cubic feet; 0 is not known.
	Volume float64 `json:"volume_ft3,omitempty"`
}

// ApplianceKind names what an appliance is.
type ApplianceKind string

// Append-only.
const (
	Furnace        ApplianceKind = "furnace"
	Boiler         ApplianceKind = "boiler"
	IndirectTank   ApplianceKind = "indirect-tank" // heated by the boiler; burns nothing itself
	WaterHeater    ApplianceKind = "water-heater"
	RoomHeater     ApplianceKind = "room-heater"
	FloorHeater    ApplianceKind = "floor-heater"
	WallHeater     ApplianceKind = "wall-heater"
	Range          ApplianceKind = "range"
	Oven           ApplianceKind = "oven"
	GasDryer       ApplianceKind = "gas-dryer"
	GasLog         ApplianceKind = "gas-log"
	Fireplace      ApplianceKind = "fireplace" // open, solid fuel
	WoodStove      ApplianceKind = "wood-stove"
	PelletStove    ApplianceKind = "pellet-stove"
	UnventedHeater ApplianceKind = "unvented-heater"
)

// ApplianceKinds in the order in which the roster screen numbers them.
// Append-only: sheets carry the numbers.
var ApplianceKinds = []ApplianceKind{Furnace, Boiler, WaterHeater, IndirectTank, RoomHeater, FloorHeater, WallHeater, Range, Oven, GasDryer, GasLog, Fireplace, WoodStove, PelletStove, UnventedHeater}

// SolidFuel reports whether the kind burns wood or pellets, which the test
// never lights.
func (k ApplianceKind) SolidFuel() bool {
	return k == Fireplace || k == WoodStove || k == PelletStove
}

// Burns reports whether the kind has a burner of its own.
func (k ApplianceKind) Burns() bool { return k != IndirectTank }

// Cooking reports whether the kind is tested outside the worst-case hold.
func (k ApplianceKind) Cooking() bool { return k == Range || k == Oven }

// Fuel of an appliance.
type Fuel string

// Append-only.
const (
	FuelUnknown Fuel = ""
	NaturalGas  Fuel = "gas"
	Propane     Fuel = "propane"
	Oil         Fuel = "oil"
	Wood        Fuel = "wood"
	Pellets     Fuel = "pellets"
	Electricity Fuel = "electric"
)

// Fuels in screen order. Append-only.
var Fuels = []Fuel{NaturalGas, Propane, Oil, Electricity}

// VentType says how combustion products leave.
type VentType string

// Append-only.
const (
	VentUnknown VentType = ""
	NaturalVent VentType = "natural"      // draft hood or barometric control, non-positive vent
	FanAssisted VentType = "fan-assisted" // induced draft into a non-positive vent
	PowerVented VentType = "power-vented" // positive pressure in the vent, room air
	DirectVent  VentType = "direct-vent"  // sealed: air from outdoors
	OnePipe     VentType = "one-pipe"     // category IV on room air
	Unvented    VentType = "unvented"
)

// VentTypes in screen order; the last choice of the screen is "not known".
// Append-only.
var VentTypes = []VentType{NaturalVent, FanAssisted, PowerVented, DirectVent, OnePipe, Unvented}

// Category is the vent category of a gas appliance; "" is not known.
type Category string

// Append-only.
const (
	CategoryI   Category = "I"
	CategoryII  Category = "II"
	CategoryIII Category = "III"
	CategoryIV  Category = "IV"
)

// Categories in screen order. Append-only.
var Categories = []Category{CategoryI, CategoryII, CategoryIII, CategoryIV}

// VentFacts are the separate facts about a vent that change the test.
type VentFacts struct {
	DraftHood      Tri `json:"draft_hood,omitempty"`
	Barometric     Tri `json:"barometric,omitempty"`   // barometric control; not a vent damper
	VentDamper     Tri `json:"vent_damper,omitempty"`  // automatic vent damper
	Outside        Tri `json:"outside,omitempty"`      // chimney on an outside wall
	Orphaned       Tri `json:"orphaned,omitempty"`     // something else once used this vent and is gone
	TestHole       Tri `json:"test_hole,omitempty"`    // the vent may be drilled or has a port
	HighStatic     Tri `json:"high_static,omitempty"`  // oil burner with a high-static flame-retention head
	TopInducer     Tri `json:"top_inducer,omitempty"`  // draft inducer at the chimney top
	OtherDwelling  Tri `json:"other_home,omitempty"`   // the vent also serves another dwelling
	InsideBoundary Tri `json:"inside,omitempty"`       // stands inside the pressure boundary of the house
	MainHeat       Tri `json:"main_heat,omitempty"`    // unvented heater used as the main heat
	Fireable       Tri `json:"can_be_fired,omitempty"` // can be fired today
	Shares         Tri `json:"shares,omitempty"`       // shares its vent with another appliance
}

// Burner is the fuel and rated input of an appliance.
type Burner struct {
	Fuel  Fuel    `json:"fuel,omitempty"`
	Input float64 `json:"input,omitempty"` // 0 is not known
	Unit  string  `json:"unit,omitempty"`
}

// Vent is the type of vent and, where it was read off the plate, its category.
type Vent struct {
	Type     VentType `json:"type,omitempty"`
	Category Category `json:"category,omitempty"`
}

// RosterItem is one line of an inventory list. What a thing is called is
// wanted; what it is decides the test.
type RosterItem struct {
	ID   string `json:"id"`
	Kind string `json:"kind"`
	Name string `json:"name,omitempty"`
}

// Appliance is all that is known of one appliance, gathered from its facts.
type Appliance struct {
	ID, Name string
	Kind     ApplianceKind
	Zone     string
	Burner   Burner
	Vent     Vent
	Facts    VentFacts
	// Partners are the other appliances on the same vent. Known only when
	// Facts.Shares is No, or Yes and the partners were named.
	Partners []string
	// Listed: each inventory screen of this appliance was answered.
	Listed bool
}

// Venting is the vent type, or not known where the plate or the vent says
// otherwise: a draft hood is no fan, and categories I and II are no vent under
// pressure.
func (a Appliance) Venting() VentType {
	switch c := a.Vent.Category; {
	case a.Vent.Type == PowerVented && (c == CategoryI || c == CategoryII), a.Vent.Type == FanAssisted && a.Facts.DraftHood == Yes:
		return VentUnknown
	}
	return a.Vent.Type
}

// NoHood reports whether it is known that an appliance made for a draft hood
// or barometric control has neither: the visual finding of a missing one.
func (a Appliance) NoHood() bool {
	made := a.Kind == Furnace || a.Kind == Boiler || a.Kind == WaterHeater
	natural := a.Venting() == NaturalVent || a.Venting() == VentUnknown // which could be natural
	return made && natural && a.Burner.Fuel != Oil && a.Burner.Fuel != Electricity && a.Facts.DraftHood == No && a.Facts.Barometric == No
}

// Susceptible reports whether house pressure can make the appliance spill:
// Unknown when its vent is not known, which the test treats as Yes.
func (a Appliance) Susceptible() Tri {
	if !a.Kind.Burns() || a.Kind.Cooking() || a.Kind == UnventedHeater || a.Kind == GasDryer || a.Burner.Fuel == Electricity {
		return No
	}
	if a.Facts.InsideBoundary == No {
		return No
	}
	if a.Kind.SolidFuel() {
		return Yes
	}
	switch a.Venting() {
	case NaturalVent:
		return Yes
	case FanAssisted:
		if a.Vent.Category == CategoryIII || a.Vent.Category == CategoryIV {
			return No
		}
		return Yes
	case PowerVented, DirectVent, OnePipe, Unvented:
		return No
	}
	return Unknown
}

// Fired reports whether the test lights this appliance at all.
func (a Appliance) Fired() bool {
	return a.Kind.Burns() && !a.Kind.SolidFuel() && a.Kind != GasDryer && a.Burner.Fuel != Electricity
}

// HasBlower reports whether a blower starts while the burner runs, so that
// the flame must be watched for a change.
func (a Appliance) HasBlower() bool { return a.Kind == Furnace }

// FanKind names a device that moves air through the shell of the house.
type FanKind string

// Append-only.
const (
	BathFan           FanKind = "bath-fan"
	RangeHood         FanKind = "range-hood"
	Dryer             FanKind = "dryer"
	CentralVacuum     FanKind = "central-vacuum"
	WholeHouseExhaust FanKind = "exhaust-ventilator" // continuous whole-house exhaust
	AtticFan          FanKind = "attic-fan"          // powered attic ventilator
	BalancedUnit      FanKind = "balanced-ventilator"
	SupplyFan         FanKind = "supply-fan"
	EvaporativeCooler FanKind = "evaporative-cooler"
	RadonFan          FanKind = "radon-fan"
	CoolingFan        FanKind = "whole-house-fan" // summer cooling fan: never run in the test
	OtherExhaust      FanKind = "other-exhaust"
)

// FanKinds in screen order. Append-only.
var FanKinds = []FanKind{BathFan, RangeHood, Dryer, CentralVacuum, WholeHouseExhaust, AtticFan, BalancedUnit, SupplyFan, EvaporativeCooler, RadonFan, CoolingFan, OtherExhaust}

// RunsAtWorstCase reports whether the device is on at worst case. Devices
// that would raise the zone (supply, balanced, evaporative) stay off; the
// summer cooling fan is never run (IRC/IFGC appendix D as reprinted: "no
// summer exhaust fan").
func (k FanKind) RunsAtWorstCase() bool {
	switch k {
	case BathFan, RangeHood, Dryer, CentralVacuum, WholeHouseExhaust, AtticFan, RadonFan, OtherExhaust:
		return true
	}
	return false
}

// DoorKind names what is behind an interior door.
type DoorKind string

// Append-only.
const (
	BedroomDoor DoorKind = "bedroom"
	BathDoor    DoorKind = "bath"
	LaundryDoor DoorKind = "laundry"
	KitchenDoor DoorKind = "kitchen"
	OfficeDoor  DoorKind = "office"
	StairDoor   DoorKind = "stair"
	OtherDoor   DoorKind = "other"
)

// DoorKinds in screen order. The CAZ door belongs to its zone, and the door
// to a garage is an exterior door, so neither is here. Append-only.
var DoorKinds = []DoorKind{BedroomDoor, BathDoor, LaundryDoor, KitchenDoor, OfficeDoor, StairDoor, OtherDoor}

// Instrument is what a reading was taken with. Serial and calibration are
// wanted; resolution and accuracy fall back to the scheme's figures.
type Instrument struct {
	ID          string  `json:"id"`   // "gauge", "analyser", "co-monitor", "gas-detector"
	Name        string  `json:"name"` // as the tester calls it
	Serial      string  `json:"serial,omitempty"`
	Calibrated  string  `json:"calibrated,omitempty"` // YYYY-MM-DD
	Resolution  float64 `json:"resolution_pa,omitempty"`
	AccuracyPa  float64 `json:"accuracy_pa,omitempty"`
	AccuracyPct float64 `json:"accuracy_pct,omitempty"`
}

// Weather at the house.
type Weather struct {
	Wind     float64 `json:"wind"`
	WindUnit string  `json:"wind_unit"`
	Temp     float64 `json:"temp"`
	TempUnit string  `json:"temp_unit"`
}

// Setup is how the tester has set the house for the readings that follow.
type Setup struct {
	Fans       []string `json:"fans_on"`
	Doors      []string `json:"doors_closed"`
	AirHandler []string `json:"air_handler"` // those running; none is all off
	CAZDoor    string   `json:"caz_door"`    // "open", "closed", "none"
	NotRun     []string `json:"not_run,omitempty"`
	FlowCFM    float64  `json:"stand_in_cfm,omitempty"` // fan standing in for a fireplace
}

// Clone returns a copy that shares nothing.
func (s Setup) Clone() Setup {
	c := s
	c.Fans = append([]string{}, s.Fans...)
	c.Doors = append([]string{}, s.Doors...)
	c.AirHandler = append([]string{}, s.AirHandler...)
	if s.NotRun != nil {
		c.NotRun = append([]string{}, s.NotRun...)
	}
	return c
}
