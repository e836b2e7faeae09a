package ingest

import (
	"bytes"
	"fmt"
	"unicode/utf16"
	"unicode/utf8"
)

// Encoding is how the characters of a text file are written as bytes.
type Encoding uint8

// Encodings; the zero value is found: a byte-order mark, else UTF-8 when the bytes are that, else Latin-1.
const (
	EncodingFound Encoding = iota
	UTF8
	Latin1
	UTF16
)

// String returns the word of the cruise file.
func (e Encoding) String() string { return [...]string{"found", "utf-8", "latin-1", "utf-16"}[e] }

// DecodeText returns the text of a file as UTF-8 with lines ended by LF, and the encoding that it was in.
func DecodeText(data []byte, declared Encoding) (text []byte, used Encoding, err error) {
	order, mark := utf16Order(data)
	switch {
	case order != 0 && (declared == EncodingFound || declared == UTF16):
		text, err = fromUTF16(data[mark:], order == 'b')
		used = UTF16
	case declared == UTF16:
		text, err = fromUTF16(data, false)
		used = UTF16
	case declared == Latin1 || declared == EncodingFound && !utf8.Valid(data):
		text, used = make([]byte, 0, len(data)+len(data)/8), Latin1
		for _, c := range data {
			text = utf8.AppendRune(text, windowsRune(c))
		}
	default:
		text, used = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), UTF8
		for i := 0; i < len(text); {
			r, n := utf8.DecodeRune(text[i:])
			if r == utf8.RuneError && n == 1 {
				line := bytes.Count(text[:i], []byte{'\n'}) + 1
				return nil, UTF8, fmt.Errorf("byte %#02x in line %d is not UTF-8", text[i], line)
			}
			i += n
		}
	}
	if err != nil {
		return nil, used, err
	}
	if bytes.IndexByte(text, '\r') >= 0 {
		text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	return text, used, nil
}

// utf16Order returns 'l' or 'b' for the order of bytes of UTF-16 and the length of its mark; 0 when the bytes look
// otherwise.
func utf16Order(data []byte) (order byte, mark int) {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		return 'l', 2
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		return 'b', 2
	case len(data) > 3 && data[0] != 0 && data[1] == 0 && data[2] != 0 && data[3] == 0:
		return 'l', 0
	case len(data) > 3 && data[0] == 0 && data[1] != 0 && data[2] == 0 && data[3] != 0:
		return 'b', 0
	}
	return 0, 0
}

func fromUTF16(data []byte, bigEndian bool) ([]byte, error) {
	if len(data)%2 != 0 {
		return nil, fmt.Errorf("%d bytes of UTF-16; the number is odd, so that the file is cut short", len(data))
	}
	units := make([]uint16, len(data)/2)
	for i := range units {
		low, high := data[2*i], data[2*i+1]
		if bigEndian {
			low, high = high, low
		}
		units[i] = uint16(low) | uint16(high)<<8
	}
	return []byte(string(utf16.Decode(units))), nil
}

// windowsRune returns the character of a byte of Latin-1; 0x80 to 0x9f, which are control characters there, are read as
// the printing characters of Windows code page 1252 that text of measurements has: minus signs, quotes and primes.
func windowsRune(c byte) rune {
	switch c {
	case 0x91, 0x92:
		return '\''
	case 0x93, 0x94:
		return '"'
	case 0x96, 0x97:
		return '-'
	}
	return rune(c)
}
