package pdfcolour

import (
	"bytes"
	"fmt"
	"sync"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// stream writes a stream object from its dictionary, without Length, and its data.
func stream(dict string, data []byte) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data)
}

// pdf is a file of a page of 100 x 100 points, object 3, with objects numbered from 10, of which the page's dictionary may speak.
func pdf(page string, objects ...string) []byte {
	var out bytes.Buffer
	out.WriteString("%PDF-1.7\n")
	offsets := map[int]int{}
	put := func(nr int, o string) {
		offsets[nr] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", nr, o)
	}
	put(1, "<< /Type /Catalog /Pages 2 0 R >>")
	put(2, "<< /Type /Pages /Kids [3 0 R] /Count 1 >>")
	put(3, "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 100 100] "+page+" >>")
	for i, o := range objects {
		put(10+i, o)
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 1\n0000000000 65535 f \n1 3\n")
	for nr := 1; nr <= 3; nr++ {
		fmt.Fprintf(&out, "%010d 00000 n \n", offsets[nr])
	}
	if len(objects) > 0 {
		fmt.Fprintf(&out, "10 %d\n", len(objects))
		for i := range objects {
			fmt.Fprintf(&out, "%010d 00000 n \n", offsets[10+i])
		}
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", 10+len(objects), start)
	return out.Bytes()
}

var disableConfig = sync.OnceFunc(api.DisableConfigDir)

// open reads a file made by pdf.
func open(t testing.TB, data []byte) *model.XRefTable {
	t.Helper()
	disableConfig()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err != nil {
		t.Fatal(err)
	}
	return ctx.XRefTable
}

// ref is the n-th object given to pdf.
func ref(n int) types.IndirectRef { return *types.NewIndirectRef(10+n, 0) }

var cmyk = Planes{"Cyan", "Magenta", "Yellow", "Black"}

// reader reads a file of these objects.
func reader(t testing.TB, planes Planes, objects ...string) *Reader {
	t.Helper()
	return NewReader(open(t, pdf("", objects...)), planes, Curves{})
}
