package logfile

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"
	"sort"
	"time"

	"cazward/procedure/reading"
)

// Window is the part of a log that counts, both ends included; a zero end is
// open.
type Window struct{ From, To time.Time }

// Need is what a window must offer; zero fields take the own rules of
// [DefaultNeed].
type Need struct {
	Seconds    reading.Seconds  // shortest window
	EffectiveN float64          // fewest independent samples
	Change     reading.Pressure // largest change from end to end, Pa
}

// DefaultNeed is 30 s, 5 independent samples and 0.3 Pa from end to end (own
// rules).
func DefaultNeed() Need { return Need{Seconds: 30, EffectiveN: 5, Change: 0.3} }

// Options of a reading.
type Options struct {
	Window Window
	Need   Need
}

// BadLine is a line that could not be read.
type BadLine struct {
	Line int // counted from 1 over the whole log
	Text string
}

// Faults are what is wrong with a log, window or not.
type Faults struct {
	Bad        int       // lines after the header that could not be read, or of numbers beyond any gauge
	BadLines   []BadLine // the first five of them
	Duplicates int       // lines with the time and value of the line before; left out
	SameTime   int       // lines with the time of the line before and another value; kept
	Disorder   int       // times earlier than the line before; kept
	Gaps       int       // steps of more than 2.5 times the usual one
	LongestGap time.Duration
	GapAt      time.Time // where the longest begins
}

// Quality is a reason not to trust a window. Append-only.
type Quality string

// The reasons. Thresholds are own rules.
const (
	TooShort  Quality = "too-short"       // shorter than Need.Seconds
	TooFew    Quality = "few-independent" // fewer independent samples than Need.EffectiveN
	Drifting  Quality = "drifting"        // still changing: more than Need.Change from end to end, and twice its standard error
	HasGap    Quality = "gap"             // a gap inside
	Disorder  Quality = "disorder"        // times that go back inside
	HasBad    Quality = "bad-lines"       // more than 1 % of the lines of the log unreadable
	Frozen    Quality = "frozen"          // never moves: pinched or blocked hose, or a gauge on hold
	Spiked    Quality = "outliers"        // values far from the rest
	NoSamples Quality = "no-samples"      // nothing inside the window
)

// Extreme is a single sample.
type Extreme struct {
	Value float64
	At    time.Time
	Line  int
}

// Stats of a window, in the log's unit and seconds.
type Stats struct {
	reading.Stats
	SE       float64 // standard error of the mean from scatter, for EffectiveN
	From, To time.Time
	Lowest   Extreme
	Highest  Extreme
	// Change is the straight-line trend times the length of the window, and
	// ChangeSE its standard error, corrected for the autocorrelation of what the
	// line leaves.
	Change, ChangeSE float64
	Median           float64 // to 0.05 Pa
	Outliers         int     // further from the median than 5 scaled median deviations, and than 0.5 Pa
}

// Seconds is the length of the window as sampled.
func (s Stats) Seconds() reading.Seconds { return reading.Seconds(s.To.Sub(s.From).Seconds()) }

// Result of a reading.
type Result struct {
	Format   Format
	SHA256   string // of the whole log, lowercase hex
	Bytes    int64
	Lines    int // all, header and empty ones too
	Rows     int // read, inside the window or not
	From, To time.Time
	Step     time.Duration // usual step; 0 when it cannot be told
	Faults   Faults
	Stats    Stats // of the window
	Quality  []Quality
	All      Series // the whole log
	In       Series // the window
	Window   Window // as asked
	MeanPa   reading.Pressure
	SEPa     reading.Pressure
}

// Names of the columns that were read, times first: what the record keeps.
func (r Result) Names() []string {
	var out []string
	for _, c := range append(append([]int{}, r.Format.Time...), r.Format.Pressure) {
		n := fmt.Sprintf("column %d", c+1)
		if c < len(r.Format.Columns) {
			n = r.Format.Columns[c]
		}
		out = append(out, n)
	}
	return out
}

// maxPa is beyond any gauge that is hung on a house: such a number is a code
// for "no value", not a pressure (own rule).
const maxPa = 5000

// Read goes through a log once. Memory does not grow with the log. It fails
// only where nothing can be read at all; what is wrong with single lines is in
// Faults, and a window with nothing in it has the quality [NoSamples].
func Read(r io.Reader, f Format, o Options) (Result, error) {
	res := Result{Format: f, Window: o.Window}
	if err := f.check(); err != nil {
		return res, err
	}
	if !o.Window.From.IsZero() && !o.Window.To.IsZero() && o.Window.To.Before(o.Window.From) {
		return res, fmt.Errorf("%w: the window ends before it begins", ErrFormat)
	}
	toPa, err := reading.Convert(1, f.Unit, reading.UnitPa)
	if err != nil {
		return res, err
	}
	sum := &counted{h: sha256.New()}
	br := bufio.NewReaderSize(io.TeeReader(r, sum), HeadBytes)
	p := newPass(f, o, toPa)
	for {
		line, err := br.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			return res, fmt.Errorf("%w: line %d", ErrLine, res.Lines+1)
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return res, fmt.Errorf("logfile: %w", err)
		}
		if len(line) > 0 {
			res.Lines++
			if res.Lines == 1 {
				if e := plainText(line); e != nil {
					return res, e
				}
				line = bytes.TrimPrefix(line, bom)
			}
			if res.Lines > f.Skip {
				p.line(bytes.TrimRight(line, "\r\n"), res.Lines)
			}
		}
		if err != nil {
			break
		}
	}
	res.SHA256, res.Bytes = hex.EncodeToString(sum.h.Sum(nil)), sum.n
	if p.all.n == 0 {
		return res, ErrNoRows
	}
	p.finish(&res, o.Need)
	return res, nil
}

func (f Format) check() error {
	if len(f.Time) < 1 || len(f.Time) > 3 || f.Pressure < 0 || f.Skip < 0 || !f.Layout.Known() {
		return fmt.Errorf("%w: columns of time and pressure and a clock format are needed", ErrFormat)
	}
	for _, c := range f.Time {
		if c < 0 || c == f.Pressure {
			return fmt.Errorf("%w: the pressure cannot be a time", ErrFormat)
		}
	}
	if f.Unit.Family() != reading.FamilyPressure {
		return fmt.Errorf("%w: the unit of the pressure is not named", ErrFormat)
	}
	if bytes.IndexByte([]byte("\t;|, "), f.Delimiter) < 0 || f.DecimalComma && f.Delimiter == ',' && len(f.Columns) == 0 {
		return fmt.Errorf("%w: the delimiter is not named", ErrFormat)
	}
	return nil
}

// counted hashes and counts what passes.
type counted struct {
	h hash.Hash
	n int64
}

func (c *counted) Write(b []byte) (int, error) {
	c.n += int64(len(b))
	return c.h.Write(b)
}

// pass is the state of one reading of a log.
type pass struct {
	f        Format
	clk      *clock
	toPa     float64
	from, to int64 // window, ns
	cells    [][]byte
	last     int // last column needed
	buf      []byte

	all    acc
	in     acc
	values histogram // Pa, of the window
	faults Faults
	prevT  int64
	prevV  float64
	some   bool
	prevIn bool
	back   bool // times went back inside the window

	// Steps are held back until the usual one is known.
	early   []step
	typical int64
	gapIn   bool
}

type step struct {
	at, dt int64
	in     bool
}

const earlySteps = 64

func newPass(f Format, o Options, toPa float64) *pass {
	p := &pass{f: f, clk: newClock(f), toPa: toPa, from: math.MinInt64, to: math.MaxInt64}
	if !o.Window.From.IsZero() {
		p.from = o.Window.From.UnixNano()
	}
	if !o.Window.To.IsZero() {
		p.to = o.Window.To.UnixNano()
	}
	p.last = f.Pressure
	for _, c := range f.Time {
		p.last = max(p.last, c)
	}
	p.cells = make([][]byte, p.last+1)
	return p
}

func (p *pass) bad(line []byte, n int) {
	p.faults.Bad++
	if len(p.faults.BadLines) < 5 {
		p.faults.BadLines = append(p.faults.BadLines, BadLine{n, printable(string(line[:min(len(line), 200)]))})
	}
}

func (p *pass) line(line []byte, n int) {
	rest, more := line, true
	c := 0
	for ; more && c <= p.last; c++ {
		p.cells[c], rest, more = next(rest, p.f.Delimiter)
	}
	if c <= p.last {
		if len(bytes.TrimSpace(line)) > 0 {
			p.bad(line, n)
		}
		return
	}
	t, ok := p.clk.parse(p.f.timeCell(p.cells, &p.buf))
	v, good := number(p.cells[p.f.Pressure], p.f.DecimalComma)
	if !ok || !good || math.Abs(v*p.toPa) > maxPa {
		p.bad(line, n)
		return
	}
	in := t >= p.from && t <= p.to
	if p.some {
		switch dt := t - p.prevT; {
		case dt == 0 && v == p.prevV:
			p.faults.Duplicates++
			return
		case dt == 0:
			p.faults.SameTime++
		case dt < 0:
			p.faults.Disorder++
			p.back = p.back || in && p.prevIn
		default:
			s := step{p.prevT, dt, in && p.prevIn}
			if p.typical == 0 {
				if p.early = append(p.early, s); len(p.early) == earlySteps {
					p.settle()
				}
			} else {
				p.gap(s)
			}
		}
	}
	p.all.add(t, v, n)
	if in {
		p.in.add(t, v, n)
		p.values.add(v * p.toPa)
	}
	p.prevT, p.prevV, p.prevIn, p.some = t, v, in, true
}

// settle takes the median of the first steps for the usual one.
func (p *pass) settle() {
	d := make([]int64, len(p.early))
	for i, s := range p.early {
		d[i] = s.dt
	}
	sort.Slice(d, func(i, k int) bool { return d[i] < d[k] })
	p.typical = d[len(d)/2]
	for _, s := range p.early {
		p.gap(s)
	}
	p.early = nil
}

func (p *pass) gap(s step) {
	if float64(s.dt) <= 2.5*float64(p.typical) {
		return
	}
	p.faults.Gaps++
	p.gapIn = p.gapIn || s.in
	if d := time.Duration(s.dt); d > p.faults.LongestGap {
		p.faults.LongestGap, p.faults.GapAt = d, p.at(s.at)
	}
}

func (p *pass) at(ns int64) time.Time { return p.f.at(ns) }

func (p *pass) finish(res *Result, need Need) {
	if len(p.early) >= 3 {
		p.settle()
	}
	def := DefaultNeed()
	if need.Seconds <= 0 {
		need.Seconds = def.Seconds
	}
	if need.EffectiveN <= 0 {
		need.EffectiveN = def.EffectiveN
	}
	if need.Change <= 0 {
		need.Change = def.Change
	}
	res.Rows = p.all.n
	res.From, res.To = p.at(p.all.minT), p.at(p.all.maxT)
	res.Step = time.Duration(p.typical)
	res.Faults = p.faults
	res.All, res.In = p.all.series(p), p.in.series(p)
	say := func(is bool, q Quality) {
		if is {
			res.Quality = append(res.Quality, q)
		}
	}
	if p.in.n == 0 {
		say(true, NoSamples)
		return
	}
	s := p.in.stats(p)
	median, outliers := p.values.outliers()
	s.Median, s.Outliers = median/p.toPa, outliers
	res.In.median, res.In.far = s.Median, p.values.far()/p.toPa
	res.Stats = s
	res.MeanPa, res.SEPa = reading.Pressure(s.Mean*p.toPa), reading.Pressure(s.SE*p.toPa)
	say(s.Seconds() < need.Seconds, TooShort)
	say(s.EffectiveN < need.EffectiveN, TooFew)
	say(math.Abs(s.Change)*p.toPa > float64(need.Change) && math.Abs(s.Change) > 2*s.ChangeSE, Drifting)
	say(p.gapIn, HasGap)
	say(p.back, Disorder)
	say(p.faults.Bad*100 > p.faults.Bad+res.Rows, HasBad)
	say(s.Spread == 0 && s.N >= 10, Frozen)
	say(s.Outliers > 0, Spiked)
}
