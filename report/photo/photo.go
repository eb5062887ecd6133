// Package photo makes the pictures that are kept beside a record out of those
// that a phone or camera wrote: upright, scaled, and without anything that
// says where, when or with what they were taken. Use [Prepare].
//
// Pictures come from outside, so size, shape and number of scans are looked
// at before anything is decoded, and what the decoders cannot take is refused
// with a reason, never with a crash.
package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
)

// Limits of what is taken and of what is kept (own rules).
const (
	MaxBytes = 40 << 20  // of a file
	maxSide  = 1 << 15   // pixels of a side
	maxMem   = 256 << 20 // bytes that decoding may take
	maxScans = 64        // of a JPEG: each costs a pass over all of it
	Side     = 1600      // pixels of the longer side of what is kept
	quality  = 82        // of the JPEG
	maxPNG   = 1 << 20   // a PNG larger than this is a photo and kept as JPEG
)

// Picture is what is kept.
type Picture struct {
	Data          []byte
	Type          string // image/jpeg, image/png
	Width, Height int
}

// Refused is the error of a picture that is not taken.
type Refused struct {
	Text string
	Next string
	Err  error
}

func (r *Refused) Error() string {
	if r.Err != nil {
		return r.Text + ": " + r.Err.Error()
	}
	return r.Text
}

// Unwrap gives the decoder's error.
func (r *Refused) Unwrap() error { return r.Err }

// Hint says what to do.
func (r *Refused) Hint() string { return r.Next }

// ExitCode of refused input.
func (r *Refused) ExitCode() int { return 7 }

const takeAgain = "take the photo again, or save it as JPEG"

// Prepare reads a JPEG or PNG and gives what is kept of it. Errors are of src,
// or *[Refused].
func Prepare(src io.Reader) (Picture, error) {
	data, err := io.ReadAll(io.LimitReader(src, MaxBytes+1))
	if err != nil {
		return Picture{}, err
	}
	if len(data) > MaxBytes {
		return Picture{}, &Refused{Text: fmt.Sprintf("the file is larger than %d MB", MaxBytes>>20), Next: "send a smaller copy"}
	}
	kind, turn, perPixel := "", 1, 0
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		kind = "jpeg"
		var scans int
		turn, perPixel, scans = readJPEG(data)
		if scans > maxScans {
			return Picture{}, &Refused{Text: fmt.Sprintf("the picture has more than %d scans", maxScans), Next: takeAgain}
		}
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		kind = "png"
		turn, perPixel = readPNG(data)
	case len(data) == 0:
		return Picture{}, &Refused{Text: "the file is empty", Next: takeAgain}
	default:
		return Picture{}, &Refused{Text: "the file is neither JPEG nor PNG", Next: "save the photo as JPEG; phones can be set to do so"}
	}
	img, err := decode(data, kind, perPixel)
	if err != nil {
		return Picture{}, err
	}
	out := upright(scale(img), turn)
	p := Picture{Width: out.Rect.Dx(), Height: out.Rect.Dy()}
	var b bytes.Buffer
	if kind == "png" {
		p.Type = "image/png"
		if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, opaque{out}); err != nil {
			return Picture{}, err
		}
	}
	if kind == "jpeg" || b.Len() > maxPNG {
		p.Type = "image/jpeg"
		b.Reset()
		if err := jpeg.Encode(&b, out, &jpeg.Options{Quality: quality}); err != nil {
			return Picture{}, err
		}
	}
	p.Data = b.Bytes()
	return p, nil
}

// opaque keeps the encoder from writing an alpha channel.
type opaque struct{ *image.RGBA }

// Opaque implements what image/png asks.
func (opaque) Opaque() bool { return true }

// decode looks at the size before it decodes, and puts the picture on white.
func decode(data []byte, kind string, perPixel int) (out *image.RGBA, err error) {
	defer func() {
		if x := recover(); x != nil { // a fault of a decoder is a refusal too
			out, err = nil, &Refused{Text: "the picture cannot be read", Next: takeAgain, Err: fmt.Errorf("%v", x)}
		}
	}()
	config, decode := jpeg.DecodeConfig, jpeg.Decode
	if kind == "png" {
		config, decode = png.DecodeConfig, png.Decode
	}
	c, err := config(bytes.NewReader(data))
	if err != nil {
		return nil, &Refused{Text: "the picture cannot be read", Next: takeAgain, Err: err}
	}
	if c.Width < 1 || c.Height < 1 || c.Width > maxSide || c.Height > maxSide || int64(c.Width)*int64(c.Height) > int64(maxMem/perPixel) {
		return nil, &Refused{Text: fmt.Sprintf("a picture of %d x %d pixels is too large", c.Width, c.Height), Next: "send a smaller copy"}
	}
	img, err := decode(bytes.NewReader(data))
	if err != nil {
		return nil, &Refused{Text: "the picture is broken", Next: takeAgain, Err: err}
	}
	out = image.NewRGBA(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dy()))
	draw.Draw(out, out.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, img, img.Bounds().Min, draw.Over)
	return out, nil
}

// scale brings the longer side down to Side; each new pixel is the mean of
// those that it covers. Smaller pictures stay as they are.
func scale(src *image.RGBA) *image.RGBA {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	long := max(w, h)
	if long <= Side {
		return src
	}
	nw, nh := max(1, w*Side/long), max(1, h*Side/long)
	out := image.NewRGBA(image.Rect(0, 0, nw, nh))
	for y := range nh {
		y0, y1 := y*h/nh, max(y*h/nh+1, (y+1)*h/nh)
		for x := range nw {
			x0, x1 := x*w/nw, max(x*w/nw+1, (x+1)*w/nw)
			var r, g, b, n int
			for sy := y0; sy < y1; sy++ {
				row := src.Pix[sy*src.Stride+4*x0 : sy*src.Stride+4*x1]
				for i := 0; i < len(row); i += 4 {
					r, g, b, n = r+int(row[i]), g+int(row[i+1]), b+int(row[i+2]), n+1
				}
			}
			at := out.Pix[y*out.Stride+4*x:]
			at[0], at[1], at[2], at[3] = uint8((r+n/2)/n), uint8((g+n/2)/n), uint8((b+n/2)/n), 255
		}
	}
	return out
}

// upright turns a picture by its orientation, 1 to 8 (CIPA DC-008, Exif,
// tag 274; from memory).
func upright(src *image.RGBA, turn int) *image.RGBA {
	if turn < 2 || turn > 8 {
		return src
	}
	w, h := src.Rect.Dx(), src.Rect.Dy()
	nw, nh := w, h
	if turn >= 5 {
		nw, nh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, nw, nh))
	for y := range nh {
		for x := range nw {
			sx, sy := x, y
			switch turn {
			case 2:
				sx = w - 1 - x
			case 3:
				sx, sy = w-1-x, h-1-y
			case 4:
				sy = h - 1 - y
			case 5:
				sx, sy = y, x
			case 6:
				sx, sy = y, h-1-x
			case 7:
				sx, sy = w-1-y, h-1-x
			case 8:
				sx, sy = w-1-y, x
			}
			copy(out.Pix[y*out.Stride+4*x:][:4], src.Pix[sy*src.Stride+4*sx:][:4])
		}
	}
	return out
}

// readJPEG walks the segments: orientation, bytes that a pixel takes while
// decoding, number of scans.
func readJPEG(data []byte) (turn, perPixel, scans int) {
	turn, perPixel = 1, 8 // decoded and on white, with some room
	scans = bytes.Count(data, []byte{0xFF, 0xDA})
	for i := 2; i+4 <= len(data) && data[i] == 0xFF; {
		marker := data[i+1]
		if marker == 0xFF { // fill
			i++
			continue
		}
		if marker == 0xDA || marker == 0xD9 {
			break
		}
		n := int(binary.BigEndian.Uint16(data[i+2:]))
		if n < 2 || i+2+n > len(data) {
			break
		}
		body := data[i+4 : i+2+n]
		switch {
		case marker == 0xC2: // progressive: all coefficients are held
			perPixel = 24
		case marker == 0xE1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
			turn = orientation(body[6:])
		}
		i += 2 + n
	}
	return turn, perPixel, scans
}

// readPNG walks the chunks before the pixels.
func readPNG(data []byte) (turn, perPixel int) {
	turn, perPixel = 1, 8
	if len(data) > 24 && data[24] == 16 {
		perPixel = 12
	}
	for i := 8; i+12 <= len(data); {
		n := int(binary.BigEndian.Uint32(data[i:]))
		if n < 0 || n > len(data)-i-12 {
			break
		}
		switch string(data[i+4 : i+8]) {
		case "eXIf":
			turn = orientation(data[i+8 : i+8+n])
		case "IDAT":
			return turn, perPixel
		}
		i += 12 + n
	}
	return turn, perPixel
}

// orientation of a block of Exif, 1 where there is none.
func orientation(b []byte) int {
	if len(b) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	switch string(b[:2]) {
	case "MM":
		order = binary.BigEndian
	case "II":
	default:
		return 1
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 1
	}
	n := int64(order.Uint16(b[at:]))
	for k := range n {
		e := at + 2 + 12*k
		if e+12 > int64(len(b)) {
			break
		}
		if order.Uint16(b[e:]) == 274 && order.Uint16(b[e+2:]) == 3 {
			if v := int(order.Uint16(b[e+8:])); v >= 1 && v <= 8 {
				return v
			}
		}
	}
	return 1
}
