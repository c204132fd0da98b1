package main

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"time"
)

// progress shows how far a run is: done and total, how quick, and how long it will take. It is safe for concurrent use.
type progress struct {
	say   *speaker
	total int
	clock func() time.Time

	mu      sync.Mutex
	done    int
	ended   bool
	drawn   time.Time
	samples []sample // of the last seconds
}

type sample struct {
	at   time.Time
	done int
}

const (
	drawEvery  = 100 * time.Millisecond
	lookBack   = 10 * time.Second // what the rate is taken from
	barColumns = 20
)

func newProgress(say *speaker, total int) *progress {
	p := &progress{say: say, total: total, clock: time.Now}
	p.samples = []sample{{p.clock(), 0}}
	return p
}

// step tells that one more file is done.
func (p *progress) step() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done++
	now := p.clock()
	if p.ended || !p.say.errIsTerminal || now.Sub(p.drawn) < drawEvery {
		return
	}
	p.drawn = now
	p.samples = append(p.samples, sample{now, p.done})
	for len(p.samples) > 2 && now.Sub(p.samples[0].at) > lookBack {
		p.samples = p.samples[1:]
	}
	p.say.status(p.line(now))
}

// end takes the line away for good.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.ended = true
	p.say.status("")
}

func (p *progress) line(now time.Time) string {
	full := barColumns * p.done / max(1, p.total)
	text := fmt.Sprintf("judged %d of %d  %s%s", p.done, p.total, strings.Repeat("#", full), strings.Repeat(".", barColumns-full))
	first := p.samples[0]
	took := now.Sub(first.at).Seconds()
	if took <= 0 || p.done == first.done {
		return text
	}
	rate := float64(p.done-first.done) / took
	return fmt.Sprintf("%s  %s a second, %s left", text, short(rate), spell(time.Duration(float64(p.total-p.done)/rate*float64(time.Second))))
}

// short writes a rate with two figures or in whole numbers.
func short(rate float64) string {
	if rate < 10 {
		return fmt.Sprintf("%.2g", rate)
	}
	return fmt.Sprintf("%.0f", rate)
}

// spell writes about how long, in the units people wait in.
func spell(d time.Duration) string {
	s := int(math.Ceil(d.Seconds()))
	switch {
	case s < 100:
		return fmt.Sprintf("%d s", s)
	case s < 100*60:
		return fmt.Sprintf("%d min", (s+30)/60)
	}
	return fmt.Sprintf("%d h %d min", s/3600, s%3600/60)
}
