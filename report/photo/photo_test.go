package photo_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"cazward/report/photo"
)

// corners is a picture whose four corners differ: dark upper left, red upper
// right, green lower left, blue lower right.
func corners(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{A: 255}
			if x >= w/2 {
				if y >= h/2 {
					c.B = 250
				} else {
					c.R = 250
				}
			} else if y >= h/2 {
				c.G = 250
			}
			m.SetRGBA(x, y, c)
		}
	}
	return m
}

// exif is a block with the orientation and a text that must not stay.
func exif(turn int) []byte {
	b := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x02")
	b = append(b, 0x01, 0x0f, 0, 2, 0, 0, 0, 4, 'H', 'O', 'M', 0) // maker
	b = append(b, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, byte(turn), 0, 0)
	return append(b, []byte("\x00\x00\x00\x00SECRET 41.5N 72.1W")...)
}

func jpegOf(t testing.TB, m image.Image, turn int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	body := append([]byte("Exif\x00\x00"), exif(turn)...)
	seg := append([]byte{0xFF, 0xE1, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body...)
	comment := []byte("\xff\xfe\x00\x10SECRET comment")
	return append(append(append([]byte{}, b.Bytes()[:2]...), append(seg, comment...)...), b.Bytes()[2:]...)
}

func chunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func pngOf(t testing.TB, m image.Image, turn int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	extra := append(chunk("tEXt", []byte("Comment\x00SECRET text")), chunk("eXIf", exif(turn))...)
	return append(append(append([]byte{}, b.Bytes()[:33]...), extra...), b.Bytes()[33:]...)
}

// Each orientation comes out upright: what the tag says stands at the upper
// left of the picture as seen does so in what is kept.
func TestUpright(t *testing.T) {
	k, r, g, b := "dark", "red", "green", "blue"
	for turn, want := range map[int][4]string{ // upper left, upper right, lower left, lower right
		1: {k, r, g, b}, 2: {r, k, b, g}, 3: {b, g, r, k}, 4: {g, b, k, r},
		5: {k, g, r, b}, 6: {g, k, b, r}, 7: {b, r, g, k}, 8: {r, b, k, g},
	} {
		for name, data := range map[string][]byte{"jpeg": jpegOf(t, corners(64, 32), turn), "png": pngOf(t, corners(64, 32), turn)} {
			p, err := photo.Prepare(bytes.NewReader(data))
			if err != nil {
				t.Fatalf("%s %d: %v", name, turn, err)
			}
			m, _, err := image.Decode(bytes.NewReader(p.Data))
			if err != nil {
				t.Fatal(err)
			}
			w, h := 64, 32
			if turn > 4 {
				w, h = h, w
			}
			if p.Width != w || p.Height != h || m.Bounds().Dx() != w || m.Bounds().Dy() != h {
				t.Errorf("%s %d: %d x %d, want %d x %d", name, turn, p.Width, p.Height, w, h)
			}
			got := [4]string{at(m, 4, 4), at(m, w-4, 4), at(m, 4, h-4), at(m, w-4, h-4)}
			if got != want {
				t.Errorf("%s %d: corners %v, want %v", name, turn, got, want)
			}
		}
	}
}

func at(m image.Image, x, y int) string {
	r, g, b, _ := m.At(x, y).RGBA()
	switch {
	case r > 0x8000:
		return "red"
	case g > 0x8000:
		return "green"
	case b > 0x8000:
		return "blue"
	}
	return "dark"
}

func TestMetadataRemoved(t *testing.T) {
	for _, data := range [][]byte{jpegOf(t, corners(40, 40), 6), pngOf(t, corners(40, 40), 3)} {
		if !bytes.Contains(data, []byte("SECRET")) {
			t.Fatal("the input has nothing to remove")
		}
		p, err := photo.Prepare(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []string{"SECRET", "Exif", "eXIf", "tEXt"} {
			if bytes.Contains(p.Data, []byte(s)) {
				t.Errorf("%s: %q is still there", p.Type, s)
			}
		}
	}
}

func TestScaled(t *testing.T) {
	p, err := photo.Prepare(bytes.NewReader(jpegOf(t, corners(4000, 3000), 6)))
	if err != nil {
		t.Fatal(err)
	}
	if p.Width != 1200 || p.Height != photo.Side || len(p.Data) > 200<<10 {
		t.Errorf("%d x %d, %d bytes", p.Width, p.Height, len(p.Data))
	}
	small, err := photo.Prepare(bytes.NewReader(pngOf(t, corners(30, 20), 1)))
	if err != nil || small.Width != 30 || small.Type != "image/png" {
		t.Errorf("a small one changed: %+v %v", small, err)
	}
	// Noise as PNG is a photo: kept as JPEG, else it would take megabytes.
	noise := image.NewRGBA(image.Rect(0, 0, 1200, 900))
	x := uint32(1)
	for i := range noise.Pix {
		x = x*1664525 + 1013904223
		noise.Pix[i] = uint8(x >> 24)
	}
	p, err = photo.Prepare(bytes.NewReader(pngOf(t, noise, 1)))
	if err != nil || p.Type != "image/jpeg" {
		t.Errorf("noise kept as %s, %d bytes, %v", p.Type, len(p.Data), err)
	}
}

// A transparent picture is put on white, as paper is.
func TestTransparent(t *testing.T) {
	p, err := photo.Prepare(bytes.NewReader(pngOf(t, image.NewNRGBA(image.Rect(0, 0, 8, 8)), 1)))
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(p.Data))
	if err != nil {
		t.Fatal(err)
	}
	if r, g, b, a := m.At(3, 3).RGBA(); r+g+b+a != 4*0xFFFF {
		t.Errorf("pixel %x %x %x %x", r, g, b, a)
	}
}

// header of a PNG that claims any size and has next to nothing in it.
func claims(w, h uint32, depth byte) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	body = append(body, depth, 6, 0, 0, 0)
	return append(append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", body)...), chunk("IDAT", []byte("x"))...)
}

func TestRefused(t *testing.T) {
	good := jpegOf(t, corners(64, 64), 1)
	manyScans := append(append([]byte{}, good...), bytes.Repeat([]byte{0xFF, 0xDA}, 70)...)
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":          {nil, "is empty"},
		"text":           {[]byte("hello"), "neither JPEG nor PNG"},
		"svg":            {[]byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), "neither"},
		"gif":            {[]byte("GIF89a\x01\x00\x01\x00"), "neither"},
		"cut":            {good[:len(good)/2], "cannot be read"},
		"cut in pixels":  {good[:len(good)-40], "broken"},
		"bomb":           {claims(30000, 30000, 8), "too large"},
		"deep bomb":      {claims(6000, 6000, 16), "too large"},
		"side":           {claims(1<<16, 1, 8), "too large"},
		"zero":           {claims(0, 10, 8), "cannot be read"},
		"negative":       {claims(1<<31, 1<<31, 8), "cannot be read"},
		"no pixels":      {claims(10, 10, 8), "broken"},
		"scans":          {manyScans, "scans"},
		"huge file":      {append([]byte("\xff\xd8\xff"), make([]byte, photo.MaxBytes)...), "larger than"},
		"jpeg signature": {[]byte("\xff\xd8\xff\xe1\x00\x08Exif"), "cannot be read"},
	} {
		p, err := photo.Prepare(bytes.NewReader(c.data))
		var r *photo.Refused
		if !errors.As(err, &r) || !strings.Contains(err.Error(), c.want) || r.Hint() == "" || r.ExitCode() != 7 || len(p.Data) > 0 {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("card pulled out") }

func TestReadError(t *testing.T) {
	if _, err := photo.Prepare(broken{}); err == nil || err.Error() != "card pulled out" {
		t.Errorf("%v", err)
	}
}

// FuzzPrepare: whatever comes in is refused, or kept within the limits,
// readable, and without metadata.
func FuzzPrepare(f *testing.F) {
	for turn := range 3 {
		f.Add(jpegOf(f, corners(24, 16), turn*3))
		f.Add(pngOf(f, corners(24, 16), turn*3))
	}
	f.Add(claims(30000, 30000, 8))
	f.Add([]byte("\xff\xd8\xff\xe1\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := photo.Prepare(bytes.NewReader(data))
		if err != nil {
			if p.Data != nil {
				t.Errorf("refused and kept: %v", err)
			}
			return
		}
		m, kind, err := image.Decode(bytes.NewReader(p.Data))
		if err != nil || "image/"+kind != p.Type {
			t.Fatalf("what is kept is no %s: %v", p.Type, err)
		}
		if b := m.Bounds(); b.Dx() > photo.Side || b.Dy() > photo.Side || b.Dx() != p.Width || b.Dy() != p.Height {
			t.Errorf("kept %v, said %d x %d", b, p.Width, p.Height)
		}
		if bytes.Contains(p.Data, []byte("Exif")) {
			t.Error("metadata kept")
		}
	})
}

func BenchmarkPhone(b *testing.B) {
	data := jpegOf(b, corners(4000, 3000), 6)
	for b.Loop() {
		if _, err := photo.Prepare(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}

func ExamplePrepare() {
	_, err := photo.Prepare(strings.NewReader("not a picture"))
	fmt.Println(err)
	// Output: the file is neither JPEG nor PNG
}
