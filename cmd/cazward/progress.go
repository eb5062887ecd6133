package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"cazward/procedure/wording"
)

// progress is a bar on a terminal, and nothing anywhere else.
type progress struct {
	w     io.Writer
	on    bool
	what  string
	lang  wording.Lang
	total int
	last  time.Time
	start time.Time
	wrote bool
	mu    sync.Mutex
	n     int
}

func newProgress(e *env, what string, total int) *progress {
	return &progress{w: e.err, on: !e.plain && isTerminal(e.err) && os.Getenv("TERM") != "dumb", what: what, lang: e.lang, total: total, start: time.Now()}
}

// step counts one more done, from any goroutine.
func (p *progress) step() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.n++
	p.at(p.n)
}

func (p *progress) at(n int) {
	if !p.on || time.Since(p.last) < 100*time.Millisecond {
		return
	}
	p.last, p.wrote = time.Now(), true
	rate := float64(n) / max(time.Since(p.start).Seconds(), 0.001)
	if p.total <= 0 {
		fmt.Fprintf(p.w, "\r%s %d, %.0f/s   ", p.what, n, rate)
		return
	}
	const width = 30
	full := min(width, n*width/p.total)
	fmt.Fprintf(p.w, "\r%s [%s%s] %d %s %d, %.0f/s   ", p.what, strings.Repeat("=", full), strings.Repeat(".", width-full), n, saying("of").in(p.lang), p.total, rate)
}

// end clears the line for what comes after it.
func (p *progress) end() {
	if p.wrote {
		fmt.Fprintf(p.w, "\r%s\r", strings.Repeat(" ", 78))
	}
}
