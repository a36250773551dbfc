package listen

import (
	"math"
	"sync"

	"github.com/mjibson/go-dsp/fft"
	"github.com/mjibson/go-dsp/spectral"

	"ringwell/analysis"
)

const (
	welchSeconds = 0.0427 // of a segment; half overlapped
	roomMemory   = 8      // seconds the background rests on at most
	roomMargin   = 0.050  // seconds left out at the end of each second: a strike may have begun there
	mostDue      = 4      // seconds that may wait to be learned
)

// background is what the room sounds like while nothing rings. Seconds of it
// are noted as they pass and learned only when somebody asks: Welch's method
// allocates, and the idle step must not.
type background struct {
	rate analysis.Rate
	nfft int
	psd  []float64 // as Room.PSD; nil until something was learned
	rest float64   // seconds psd rests on
	due  [mostDue]int64
	dues int
	x    []float64
}

// oneWorker tells go-dsp to start no goroutines of its own: transforms of this
// size gain nothing from them. It keeps that in a global, which ears made side
// by side must not all write.
var oneWorker = sync.OnceFunc(func() { fft.SetWorkerPoolSize(1) })

func newBackground(rate analysis.Rate) *background {
	oneWorker()
	return &background{
		rate: rate,
		nfft: max(64, 1<<int(math.Round(math.Log2(welchSeconds*float64(rate))))),
		x:    make([]float64, int(rate)),
	}
}

// learn takes in the seconds that are due from what is still held of them.
func (b *background) learn(sound *history) {
	for _, at := range b.due[:b.dues] {
		if at >= sound.from && at+int64(len(b.x)) <= sound.to {
			sound.copy(b.x, at)
			if !b.rings(b.x) {
				b.take(b.x)
			}
		}
	}
	b.dues = 0
}

const (
	// louderThan is how many times the known background a second must have for
	// a ring to be suspected in it, and sinking how many times as much power its
	// first half must have as its second: what rings as long as 25 s sinks by
	// 1.2 dB in half a second, a steady noise by next to nothing.
	louderThan = 2.0
	sinking    = 1.26
)

// rings reports whether a second is the end of a ring that was let go of too
// early. A background that has become louder does not sink, so it is learned
// a second later.
func (b *background) rings(x []float64) bool {
	if b.psd == nil {
		return false
	}
	m := mean(x)
	var first, second float64
	for i, v := range x {
		v -= m
		if i < len(x)/2 {
			first += v * v
		} else {
			second += v * v
		}
	}
	return first+second > louderThan*mean(b.psd)*float64(len(x)) && first > sinking*second
}

// take folds in one second. The steady part of the sound is no background.
func (b *background) take(x []float64) {
	psd := welch(x, b.nfft)
	if b.psd == nil {
		b.psd = make([]float64, len(psd))
	}
	b.rest = min(b.rest+1, roomMemory)
	for k, v := range psd {
		b.psd[k] += (v - b.psd[k]) / b.rest
	}
}

// welch returns the power at nfft/2+1 frequencies from 0 to half the rate,
// scaled so that white noise of variance v reads v in every bin. It changes x,
// from which it takes the mean.
func welch(x []float64, nfft int) []float64 {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for i := range x {
		x[i] -= mean
	}
	psd, _ := spectral.Pwelch(x, 1, &spectral.PwelchOptions{NFFT: nfft, Noverlap: nfft / 2, Scale_off: true})
	// Pwelch is one-sided: all bins but the outer two hold both halves.
	for k := 1; k < len(psd)-1; k++ {
		psd[k] /= 2
	}
	return psd
}
