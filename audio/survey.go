package audio

import (
	"bytes"
	"errors"
	"io"
	"math"
)

// surveySeconds is how much of a recording is looked at before it is played.
// Long enough to hold a strike or two, short enough that an hour of sound opens
// in a fraction of a second.
const surveySeconds = 30

// survey is what a first look at a recording tells.
type survey struct {
	power []float64 // of each channel, without its mean
	depth int
}

// surveyed looks at the first surveySeconds of d. Damage further on is not its
// business; a recording without any sound in it is an error.
func surveyed(d decoder) (survey, error) {
	f := d.Format()
	buf := make([]float64, f.Channels*freeBlock)
	sum := make([]float64, f.Channels)
	square := make([]float64, f.Channels)
	var frames int
	for frames < surveySeconds*f.Rate {
		n, err := d.Read(buf)
		if n == 0 {
			if frames == 0 && err == io.EOF {
				return survey{}, errors.New("holds no sound")
			}
			if frames == 0 {
				return survey{}, err
			}
			break
		}
		for i, x := range buf[:n*f.Channels] {
			sum[i%f.Channels] += x
			square[i%f.Channels] += x * x
		}
		frames += n
	}
	s := survey{power: make([]float64, f.Channels), depth: d.Depth()}
	for c := range s.power {
		mean := sum[c] / float64(frames)
		s.power[c] = max(0, square[c]/float64(frames)-mean*mean)
	}
	return s, nil
}

// loudest returns the index of the first channel within 1 dB of the loudest.
func (s survey) loudest() int {
	var most float64
	for _, p := range s.power {
		most = max(most, p)
	}
	for c, p := range s.power {
		if p >= most*math.Pow(10, -0.1) {
			return c
		}
	}
	return 0
}

// sniff tells what a file holds from its first bytes: "wav", "flac", or words
// for something else. It returns a reader that gives those bytes again.
func sniff(src io.Reader) (io.Reader, string, error) {
	head := make([]byte, 12)
	n, err := io.ReadFull(src, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, "", err
	}
	head = head[:n]
	again := io.MultiReader(bytes.NewReader(head), src)
	at := func(i int, magic string) bool {
		return len(head) >= i+len(magic) && string(head[i:i+len(magic)]) == magic
	}
	// From memory of the formats' own documents, unchecked; a wrong guess only
	// changes the words.
	switch {
	case at(0, "fLaC"):
		return again, "flac", nil
	case at(0, "ID3"):
		return id3(again)
	case at(0, "FORM"):
		return again, "an AIFF file", nil
	case at(0, "OggS"):
		return again, "an Ogg file", nil
	case at(0, "caff"):
		return again, "a CAF file", nil
	case at(4, "ftyp"):
		return again, "an MP4 file", nil
	case at(0, "riff"):
		return again, "a Wave64 file", nil
	case at(0, ".snd"):
		return again, "an AU file", nil
	case at(0, "\x1aE\xdf\xa3"):
		return again, "a Matroska or WebM file", nil
	case len(head) >= 2 && head[0] == 0xFF && head[1]&0xE0 == 0xE0:
		return again, "an MPEG sound file", nil
	}
	// The WAV reader has words for everything else.
	return again, "wav", nil
}

// id3 steps over an ID3 tag, which some programs put before FLAC although
// it belongs to MPEG sound: ten bytes of head, the last four the size of the
// rest in seven bits each (ID3v2.4 structure, section 3.1; from memory,
// unchecked).
func id3(src io.Reader) (io.Reader, string, error) {
	head := make([]byte, 10)
	if _, err := io.ReadFull(src, head); err != nil {
		return nil, "", errors.New("the file is cut short inside its ID3 tag")
	}
	size := int64(head[6]&0x7F)<<21 | int64(head[7]&0x7F)<<14 | int64(head[8]&0x7F)<<7 | int64(head[9]&0x7F)
	if _, err := io.CopyN(io.Discard, src, size); err != nil {
		return nil, "", errors.New("the file is cut short inside its ID3 tag")
	}
	magic := make([]byte, 4)
	n, _ := io.ReadFull(src, magic)
	again := io.MultiReader(bytes.NewReader(magic[:n]), src)
	if string(magic[:n]) == "fLaC" {
		return again, "flac", nil
	}
	return again, "an MPEG sound file", nil
}
