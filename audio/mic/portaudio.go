//go:build cgo

package mic

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"time"

	"github.com/gordonklaus/portaudio"

	"ringwell/audio"
)

// beat is how often a callback should come.
const beat = 10 * time.Millisecond

// hold is the holder for PortAudio.
func hold(o Options, ready chan<- running, stop <-chan struct{}) error {
	// PortAudio keeps the host's error text for the thread that initialized.
	runtime.LockOSThread()
	if !o.Noise {
		quiet()
	}
	if err := portaudio.Initialize(); err != nil {
		return faultf("the sound system does not start (%s): look whether it runs; trying again", words(err))
	}
	defer portaudio.Terminate()
	stream, dev, err := open(o)
	if err != nil {
		return err
	}
	ready <- dev
	<-stop
	return errors.Join(named("stop", stream.Stop()), named("close", stream.Close()))
}

// open finds the input and starts a stream on it.
func open(o Options) (*portaudio.Stream, running, error) {
	ins, devices, err := enumerate()
	if err != nil {
		return nil, running{}, err
	}
	i, err := pick(ins, o.Input)
	if err != nil {
		return nil, running{}, err
	}
	in, device := ins[i], devices[i]
	channel := max(1, o.Channel)
	if channel > in.Channels {
		return nil, running{}, faultf("the input %q has no channel %d, only %d", in.Name, channel, in.Channels)
	}
	latency := o.Latency
	if latency <= 0 {
		latency = buffering(in)
	}
	// One channel of a stereo source would come as a mix of both sides at half
	// their level, so two are opened wherever there may be two.
	channels := max(channel, min(2, in.Channels))
	tried := rates(o.Rate, in.Rate)
	for _, rate := range tried {
		stream, f, info, err := start(device, rate, channels, channel, latency)
		if errors.Is(err, portaudio.InvalidSampleRate) {
			continue
		}
		if err != nil {
			return nil, running{}, refused(in, err)
		}
		return stream, running{
			feed:  f,
			watch: watch(latency),
			hello: withName(audio.Hello{
				Rate:     info.SampleRate,
				Channels: channels,
				Channel:  channel,
				Device:   in.Name,
				Host:     in.Host,
				Latency:  info.InputLatency.Seconds(),
			}),
		}, nil
	}
	return nil, running{}, faultf("the input %q does not run at %s Hz: give another --rate or none", in.Name, join(tried))
}

// start opens and starts a stream. What counts from then on is the rate in
// info: a host may give a neighbour of the rate asked for.
func start(device *portaudio.DeviceInfo, rate float64, channels, channel int, latency time.Duration) (*portaudio.Stream, *feed, portaudio.StreamInfo, error) {
	var f *feed
	info := portaudio.StreamInfo{SampleRate: rate}
	stream, err := portaudio.OpenStream(portaudio.StreamParameters{
		Input:           portaudio.StreamDeviceParameters{Device: device, Channels: channels, Latency: latency},
		SampleRate:      rate,
		FramesPerBuffer: int(math.Round(rate * beat.Seconds())),
		// The samples are wanted as they are: no clipping, no noise added.
		Flags: portaudio.ClipOff | portaudio.DitherOff,
	}, func(in []float32, _ portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
		f.take(in, pipeFlags(flags))
	})
	if err != nil {
		return nil, nil, info, err
	}
	if i := stream.Info(); i != nil {
		info = *i
	}
	f = newFeed(info.SampleRate, channels, channel-1, latency)
	f.start()
	if err := stream.Start(); err != nil {
		stream.Close()
		return nil, nil, info, err
	}
	return stream, f, info, nil
}

func pipeFlags(flags portaudio.StreamCallbackFlags) (out uint32) {
	if flags&portaudio.InputOverflow != 0 {
		out |= audio.PipeOverflow
	}
	if flags&portaudio.InputUnderflow != 0 {
		out |= audio.PipeUnderflow
	}
	return out
}

// inputs lists the inputs and lets go of the sound libraries.
func inputs(noise bool) ([]audio.Input, error) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if !noise {
		quiet()
	}
	if err := portaudio.Initialize(); err != nil {
		return nil, fmt.Errorf("mic: list inputs: %s", words(err))
	}
	defer portaudio.Terminate()
	ins, _, err := enumerate()
	return ins, err
}

// enumerate returns the inputs and, at the same indices, their devices. That a
// host was initialized proves nothing: there may be no device at all.
func enumerate() ([]audio.Input, []*portaudio.DeviceInfo, error) {
	all, err := portaudio.Devices()
	if err != nil {
		return nil, nil, faultf("the sound system does not list its inputs (%s): look whether it runs; trying again", words(err))
	}
	def, err := portaudio.DefaultInputDevice()
	if err != nil && !errors.Is(err, portaudio.NoDefaultInputDevice) {
		return nil, nil, faultf("the sound system does not tell its default input (%s): look whether it runs; trying again", words(err))
	}
	var ins []audio.Input
	var devices []*portaudio.DeviceInfo
	for _, d := range all {
		if d.MaxInputChannels < 1 {
			continue
		}
		in := audio.Input{
			Name:     strings.ToValidUTF8(d.Name, "?"),
			Channels: d.MaxInputChannels,
			Rate:     d.DefaultSampleRate,
			Default:  def != nil && d.Index == def.Index,
		}
		if d.HostApi != nil {
			in.Host = strings.ToValidUTF8(d.HostApi.Name, "?")
		}
		ins = append(ins, in)
		devices = append(devices, d)
	}
	return ins, devices, nil
}

// refused says why a device did not open.
func refused(in audio.Input, err error) error {
	switch {
	case errors.Is(err, portaudio.InvalidChannelCount):
		return faultf("the input %q does not give the channel asked for: choose another --channel", in.Name)
	case errors.Is(err, portaudio.DeviceUnavailable):
		return faultf("the input %q is held by another program: end it or choose another input; trying again", in.Name)
	}
	return faultf("the input %q does not open (%s): look to its cable or choose another input; trying again", in.Name, words(err))
}

// words returns what err says. The binding's UnanticipatedHostError may have no
// text, and a host type its String panics on.
func words(err error) string {
	var host portaudio.UnanticipatedHostError
	if errors.As(err, &host) {
		if host.Text == "" {
			return fmt.Sprintf("error %d of the host", host.Code)
		}
		return host.Text
	}
	return err.Error()
}

func named(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("mic: %s stream: %s", what, words(err))
}

func join(rates []float64) string {
	s := make([]string, len(rates))
	for i, r := range rates {
		s[i] = fmt.Sprintf("%g", r)
	}
	return strings.Join(s, " or ")
}
