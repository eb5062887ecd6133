package practice

import (
	"gopkg.in/yaml.v3"

	"cazward/procedure"
)

// The house file as it is written. house.schema.json describes the same keys
// for editors; a test compares the two.

type fileYAML struct {
	Kind        string           `yaml:"kind"`
	Format      int              `yaml:"format"`
	Name        string           `yaml:"name"`
	Title       string           `yaml:"title"`
	Invented    bool             `yaml:"invented"`
	Lesson      *lessonYAML      `yaml:"lesson"`
	Outdoors    *outdoorsYAML    `yaml:"outdoors"`
	Ambient     *ambientYAML     `yaml:"ambient"`
	Sealing     string           `yaml:"sealing"`
	Home        string           `yaml:"home"`
	Arrival     string           `yaml:"arrival"`
	Zones       []zoneYAML       `yaml:"zones"`
	Junctions   []junctionYAML   `yaml:"junctions"`
	Links       []linkYAML       `yaml:"links"`
	DuctLeaks   []ductYAML       `yaml:"duct_leaks"`
	Doors       []doorYAML       `yaml:"doors"`
	Windows     []windowYAML     `yaml:"windows"`
	Fans        []fanYAML        `yaml:"fans"`
	AirHandlers []airHandlerYAML `yaml:"air_handlers"`
	Vents       []ventYAML       `yaml:"vents"`
	Appliances  []applianceYAML  `yaml:"appliances"`
	Look        []lookYAML       `yaml:"look"`
	Node        *yaml.Node       `yaml:"-"`
}

type lessonYAML struct {
	Aim      string        `yaml:"aim"`
	Level    string        `yaml:"level"`
	Expected *expectedYAML `yaml:"expected"`
	Trainer  string        `yaml:"trainer_note"`
	Node     *yaml.Node    `yaml:"-"`
}

type expectedYAML struct {
	Decision procedure.Decision `yaml:"decision"`
	Zone     string             `yaml:"zone"`
	Lowest   string             `yaml:"net_lowest"`
	Highest  string             `yaml:"net_highest"`
	Findings []string           `yaml:"findings"`
	Node     *yaml.Node         `yaml:"-"`
}

type outdoorsYAML struct {
	Temperature string     `yaml:"temperature"`
	Altitude    string     `yaml:"altitude"`
	Pressure    string     `yaml:"pressure"`
	Wind        string     `yaml:"wind"`
	Gust        string     `yaml:"gust"`
	Node        *yaml.Node `yaml:"-"`
}

type ambientYAML struct {
	CO   string     `yaml:"co"`
	LEL  string     `yaml:"lel"`
	Node *yaml.Node `yaml:"-"`
}

type zoneYAML struct {
	Name        string        `yaml:"name"`
	Floor       string        `yaml:"floor"`
	Temperature string        `yaml:"temperature"`
	Volume      string        `yaml:"volume"`
	CAZ         *bool         `yaml:"caz"`
	Louvred     procedure.Tri `yaml:"louvred"`
	Node        *yaml.Node    `yaml:"-"`
}

type junctionYAML struct {
	Name        string     `yaml:"name"`
	Height      string     `yaml:"height"`
	Temperature string     `yaml:"temperature"`
	Node        *yaml.Node `yaml:"-"`
}

// lawYAML is a flow law, known by its keys: c, n; mass_c, n; flow50, n; area,
// discharge; area, discharge, reference, n; width, height, discharge.
type lawYAML struct {
	C         string     `yaml:"c"`
	MassC     string     `yaml:"mass_c"`
	Flow50    string     `yaml:"flow50"`
	N         *float64   `yaml:"n"`
	Area      string     `yaml:"area"`
	Discharge *float64   `yaml:"discharge"`
	Reference string     `yaml:"reference"`
	Width     string     `yaml:"width"`
	Height    string     `yaml:"height"`
	Node      *yaml.Node `yaml:"-"`
}

type linkYAML struct {
	Name   string     `yaml:"name"`
	From   string     `yaml:"from"`
	To     string     `yaml:"to"`
	Height string     `yaml:"height"`
	Cp     *float64   `yaml:"cp"`
	Law    *lawYAML   `yaml:"law"`
	Source string     `yaml:"source"`
	Node   *yaml.Node `yaml:"-"`
}

type ductYAML struct {
	Name       string     `yaml:"name"`
	From       string     `yaml:"from"`
	To         string     `yaml:"to"`
	Height     string     `yaml:"height"`
	AirHandler string     `yaml:"air_handler"`
	Drive      string     `yaml:"drive"`
	Law        *lawYAML   `yaml:"law"`
	Source     string     `yaml:"source"`
	Node       *yaml.Node `yaml:"-"`
}

type doorYAML struct {
	Name   string     `yaml:"name"`
	Kind   string     `yaml:"kind"`
	From   string     `yaml:"from"`
	To     string     `yaml:"to"`
	Height string     `yaml:"height"`
	Open   *lawYAML   `yaml:"open"`
	Closed *lawYAML   `yaml:"closed"`
	Source string     `yaml:"source"`
	Node   *yaml.Node `yaml:"-"`
}

type windowYAML struct {
	Name   string     `yaml:"name"`
	Kind   string     `yaml:"kind"`
	From   string     `yaml:"from"`
	To     string     `yaml:"to"`
	Height string     `yaml:"height"`
	Cp     *float64   `yaml:"cp"`
	Open   *lawYAML   `yaml:"open"`
	Closed *lawYAML   `yaml:"closed"`
	Source string     `yaml:"source"`
	Node   *yaml.Node `yaml:"-"`
}

type fanYAML struct {
	Name   string            `yaml:"name"`
	Kind   procedure.FanKind `yaml:"kind"`
	From   string            `yaml:"from"`
	To     string            `yaml:"to"`
	Flow   string            `yaml:"flow"`
	Curve  []pointYAML       `yaml:"curve"`
	Height string            `yaml:"height"`
	Cp     *float64          `yaml:"cp"`
	Off    *lawYAML          `yaml:"off"`
	Source string            `yaml:"source"`
	Node   *yaml.Node        `yaml:"-"`
}

type pointYAML struct {
	Head string     `yaml:"head"`
	Flow string     `yaml:"flow"`
	Node *yaml.Node `yaml:"-"`
}

type airHandlerYAML struct {
	Name     string      `yaml:"name"`
	Flow     string      `yaml:"flow"`
	Supplies []shareYAML `yaml:"supplies"`
	Returns  []shareYAML `yaml:"returns"`
	Source   string      `yaml:"source"`
	Node     *yaml.Node  `yaml:"-"`
}

type shareYAML struct {
	Zone     string     `yaml:"zone"`
	Fraction *float64   `yaml:"fraction"`
	Node     *yaml.Node `yaml:"-"`
}

type ventYAML struct {
	Name     string     `yaml:"name"`
	From     string     `yaml:"from"`
	To       string     `yaml:"to"`
	Height   string     `yaml:"height"`
	Top      string     `yaml:"top"`
	Area     string     `yaml:"area"`
	Diameter string     `yaml:"diameter"`
	Standing string     `yaml:"standing"`
	Fired    string     `yaml:"fired"`
	LossIn   *float64   `yaml:"loss_in"`
	LossOut  *float64   `yaml:"loss_out"`
	Cp       *float64   `yaml:"cp"`
	Source   string     `yaml:"source"`
	Node     *yaml.Node `yaml:"-"`
}

type applianceYAML struct {
	Name      string                  `yaml:"name"`
	Kind      procedure.ApplianceKind `yaml:"kind"`
	Zone      string                  `yaml:"zone"`
	Fuel      procedure.Fuel          `yaml:"fuel"`
	Input     string                  `yaml:"input"`
	VentType  procedure.VentType      `yaml:"vent_type"`
	Category  procedure.Category      `yaml:"category"`
	Vent      string                  `yaml:"vent"`
	Facts     *factsYAML              `yaml:"facts"`
	Flue      []flueYAML              `yaml:"flue"`
	LastFired string                  `yaml:"last_fired"`
	WarmUp    string                  `yaml:"warm_up"`
	Breech    string                  `yaml:"breech"`
	Node      *yaml.Node              `yaml:"-"`
}

// factsYAML has the fields of procedure.VentFacts, in its order: the compiler
// holds them together where one is converted into the other.
type factsYAML struct {
	DraftHood      procedure.Tri `yaml:"draft_hood"`
	Barometric     procedure.Tri `yaml:"barometric"`
	VentDamper     procedure.Tri `yaml:"vent_damper"`
	Outside        procedure.Tri `yaml:"outside"`
	Orphaned       procedure.Tri `yaml:"orphaned"`
	TestHole       procedure.Tri `yaml:"test_hole"`
	HighStatic     procedure.Tri `yaml:"high_static"`
	TopInducer     procedure.Tri `yaml:"top_inducer"`
	OtherDwelling  procedure.Tri `yaml:"other_home"`
	InsideBoundary procedure.Tri `yaml:"inside"`
	MainHeat       procedure.Tri `yaml:"main_heat"`
	Fireable       procedure.Tri `yaml:"can_be_fired"`
	Shares         procedure.Tri `yaml:"shares"`
}

type flueYAML struct {
	CO   string     `yaml:"co"`
	O2   string     `yaml:"o2"`
	Node *yaml.Node `yaml:"-"`
}

type lookYAML struct {
	Subject string     `yaml:"subject"`
	Code    string     `yaml:"code"`
	Shows   string     `yaml:"shows"`
	ShowsES string     `yaml:"shows_es"`
	Node    *yaml.Node `yaml:"-"`
}
