package nc

import (
	"bytes"
	"encoding/binary"
	"hash/adler32"

	"github.com/klauspost/compress/flate"
)

// deflate appends b to out as a zlib stream (RFC 1950), as HDF5's deflate filter reads it. b is planes of n bytes each:
// after the shuffle the first plane holds the lowest byte of every value, and in full-precision numbers most of the low
// planes are noise. A search for repeats in noise finds nothing and takes longest, so those planes are stored as they
// are: on the cast file of a cruise this halves the time.
func (s *squeezer) deflate(out *bytes.Buffer, b []byte, n int) error {
	out.Write([]byte{0x78, 0x01}) // deflate with a window of 32 kB, fastest
	for at := 0; at < len(b); {
		// Neighbouring planes of one kind go together.
		end, stored := at+n, isNoise(b[at:at+n])
		for end < len(b) && isNoise(b[end:end+n]) == stored {
			end += n
		}
		if stored {
			store(out, b[at:end])
		} else {
			s.z.Reset(out)
			if _, err := s.z.Write(b[at:end]); err != nil {
				return err
			}
			if err := s.z.Flush(); err != nil { // ends at a whole byte, so that the next segment may follow
				return err
			}
		}
		at = end
	}
	out.Write([]byte{1, 0, 0, 0xff, 0xff}) // last block, stored, empty
	var sum [4]byte
	binary.BigEndian.PutUint32(sum[:], adler32.Checksum(b))
	out.Write(sum[:])
	return nil
}

// store appends b in blocks that are not compressed (RFC 1951, section 3.2.4).
func store(out *bytes.Buffer, b []byte) {
	for len(b) > 0 {
		n := min(len(b), 0xffff)
		out.Write([]byte{0, byte(n), byte(n >> 8), byte(^n), byte(^n >> 8)})
		out.Write(b[:n])
		b = b[n:]
	}
}

// noiseStep is how far apart the bytes are that isNoise looks at; odd, so that no power of two hides a pattern.
const noiseStep = 3

// isNoise reports whether the bytes are so evenly spread over their 256 values that coding them would save less than
// about 2 %. Judged by the chance that two bytes are alike: 1/256 where all are equally frequent (Rényi's entropy of
// order 2 is 8 bits), here up to a tenth more (7.86 bits).
func isNoise(b []byte) bool {
	if len(b) < 256*noiseStep {
		return false
	}
	var count [256]uint32
	n := 0
	for i := 0; i < len(b); i += noiseStep {
		count[b[i]]++
		n++
	}
	alike := 0.0
	for _, c := range count {
		alike += float64(c) * float64(c)
	}
	m := float64(n)
	// Of m bytes drawn from all values alike, the expected sum of squares is m²/256 + m(1-1/256).
	return alike <= 1.1*m*m/256+m
}

func newEncoder(level int) *flate.Writer {
	w, err := flate.NewWriter(nil, level)
	if err != nil {
		panic(err) // levels 1..9 are checked when the file is defined
	}
	return w
}
