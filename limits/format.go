package limits

import "gopkg.in/yaml.v3"

// Version of the table format. A key or topic that is added keeps it; one that
// changes meaning needs the next.
const formatVersion = 1

// fileYAML is a table as it stands in a file.
type fileYAML struct {
	Node       *yaml.Node `yaml:"-"`
	Kind       string     `yaml:"kind"`   // scheme, overlay
	Format     int        `yaml:"format"` // 1
	Name       string     `yaml:"name"`
	Scheme     string     `yaml:"scheme"` // overlay: the scheme it changes
	Title      string     `yaml:"title"`
	Edition    string     `yaml:"edition"`
	Status     string     `yaml:"status"`
	Reason     string     `yaml:"reason"`      // overlay: why
	AcceptRisk string     `yaml:"accept_risk"` // overlay: why a life-safety row may be looser
	NoFigure   []noFigure `yaml:"no_figure"`
	Checked    []markYAML `yaml:"checked"` // overlay: rows agreed with their document
	Rows       []rowYAML  `yaml:"rows"`
}

// noFigure names what the scheme leaves open on purpose: a whole subject, or
// the appliances of some kinds or fuels.
type noFigure struct {
	Node  *yaml.Node `yaml:"-"`
	Topic string     `yaml:"topic"`
	Kinds []string   `yaml:"kinds"`
	Fuels []string   `yaml:"fuels"`
	Note  string     `yaml:"note"`
}

// markYAML marks a row as checked without replacing it.
type markYAML struct {
	Node    *yaml.Node `yaml:"-"`
	ID      string     `yaml:"id"`
	By      string     `yaml:"by"`
	Date    string     `yaml:"date"`
	Edition string     `yaml:"edition"`
}

// rowYAML is one row. Topic says which of the other keys it may have.
type rowYAML struct {
	Node     *yaml.Node `yaml:"-"`
	ID       string     `yaml:"id"`
	Topic    string     `yaml:"topic"`
	Applies  *whoYAML   `yaml:"applies"`
	Value    *float64   `yaml:"value"`
	Unit     string     `yaml:"unit"`
	Basis    string     `yaml:"basis"`
	Text     string     `yaml:"text"` // parameters that are words
	List     []string   `yaml:"list"`
	About    string     `yaml:"about"` // requirement: which subject it belongs to
	Line     []pointRow `yaml:"line"`
	Hazard   string     `yaml:"hazard"` // tier
	Above    *bool      `yaml:"above"`
	Act      string     `yaml:"act"`
	Over     *float64   `yaml:"over"` // matrix
	UpTo     *float64   `yaml:"up_to"`
	Spillage string     `yaml:"spillage"`
	Draft    string     `yaml:"draft"`
	Code     string     `yaml:"code"` // action
	Decision string     `yaml:"decision"`
	Status   string     `yaml:"status"`
	Action   string     `yaml:"action"`
	Life     bool       `yaml:"life"`
	Source   *srcYAML   `yaml:"source"`
	Evidence string     `yaml:"evidence"`
	Note     string     `yaml:"note"`
	Checked  *chkYAML   `yaml:"checked"`
}

type pointRow struct {
	TempF *float64 `yaml:"temp_f"`
	Pa    *float64 `yaml:"pa"`
}

type srcYAML struct {
	Title   string `yaml:"title"`
	Edition string `yaml:"edition"`
	Clause  string `yaml:"clause"`
}

type chkYAML struct {
	By      string `yaml:"by"`
	Date    string `yaml:"date"`
	Edition string `yaml:"edition"`
}

type whoYAML struct {
	Kinds      []string `yaml:"kinds"`
	Fuels      []string `yaml:"fuels"`
	Vents      []string `yaml:"vents"`
	Common     *bool    `yaml:"common"`
	Partner    []string `yaml:"partner"`
	FanPartner *bool    `yaml:"fan_partner"`
	Damper     *bool    `yaml:"damper"`
	Orphaned   *bool    `yaml:"orphaned"`
	Outside    *bool    `yaml:"outside"`
	HighStatic *bool    `yaml:"high_static"`
	TopInducer *bool    `yaml:"top_inducer"`
	Cold       *bool    `yaml:"cold"`
}
