package server
import ("testing";"os")
func TestDump(t *testing.T){ b:=fill(t); h,_:=serving(t,b.Book)
for n,p:=range map[string]string{"part":"/parts/1","sheet":"/sheets/19","features":"/features"} { os.WriteFile("/tmp/dump-"+n+".html", get(h,p).Body.Bytes(),0o644)}}
