package audio

import (
	"context"
	"fmt"
	"io"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

var _ listen.Source = (*Demo)(nil)

// DemoOptions says how the demo scene is played.
type DemoOptions struct {
	Rate analysis.Rate // 8 to 192 kHz; 0: 48 kHz
	Seed uint64        // of room, contacts and breath; the same seed, the same sound
	Once bool          // end after one turn; else begin again for ever
	Free bool          // as fast as it is asked for; else as if it were live

	clock clock // nil: the real one
}

// Demo is the built-in scene as a listen.Source, for a machine without a
// microphone and for tests. See DemoScene.
type Demo struct {
	o     DemoOptions
	pace  *pace
	sound []float32 // one turn; 9 MB at 48 kHz
	block []float64
	next  int64
	done  error
}

// NewDemo renders the scene: some tenths of a second of work.
func NewDemo(o DemoOptions) (*Demo, error) {
	if o.Rate == 0 {
		o.Rate = 48000
	}
	if !(o.Rate >= MinRate && o.Rate <= MaxRate) {
		return nil, fmt.Errorf("the demo scene: a sample rate of %v Hz: %d to %d Hz can be heard", float64(o.Rate), MinRate, MaxRate)
	}
	d := &Demo{o: o, block: make([]float64, freeBlock)}
	if !o.Free {
		d.pace = newPace(o.clock, o.Rate)
		d.block = make([]float64, beat(o.Rate))
	}
	full := Scene{Seconds: DemoSeconds, Room: demoRoom, Seed: o.Seed, Events: DemoScene()}.Render(o.Rate)
	d.sound = make([]float32, len(full))
	for i, x := range full {
		d.sound[i] = float32(x)
	}
	return d, nil
}

// Name is "demo scene".
func (d *Demo) Name() string { return "demo scene" }

// Rate is that of the options.
func (d *Demo) Rate() analysis.Rate { return d.o.Rate }

// Live is true unless it runs free.
func (d *Demo) Live() bool { return !d.o.Free }

// Next returns 10 ms of sound when they are due, or 4096 samples if it runs
// free.
func (d *Demo) Next(ctx context.Context) (analysis.Block, error) {
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	turn := int64(len(d.sound))
	if d.done == nil && d.o.Once && d.next >= turn {
		d.done = io.EOF
	}
	if d.done != nil {
		return analysis.Block{}, d.done
	}
	n := int64(len(d.block))
	if d.o.Once {
		n = min(n, turn-d.next)
	}
	if d.pace != nil {
		if err := d.pace.until(ctx, d.next+n); err != nil {
			return analysis.Block{}, err
		}
	}
	b := d.block[:n]
	at := d.next % turn
	for i := range b {
		b[i] = float64(d.sound[at])
		if at++; at == turn {
			at = 0
		}
	}
	block := analysis.Block{Start: d.next, Samples: b}
	d.next += n
	return block, nil
}

// Close ends it.
func (d *Demo) Close() error {
	d.done = io.EOF
	return nil
}
