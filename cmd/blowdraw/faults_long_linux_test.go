//go:build long

package main

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/decode/programs"

	"golang.org/x/sys/unix"
)

var faults = flag.Int("faults", 5, "how many faults of each kind befall a command")

// job is a command line over files in a folder, and what it writes there.
type job struct {
	name   string
	before map[string]string // the files in the folder, old outputs among them
	args   []string          // run in the folder
	writes []string
	notes  bool              // it keeps madeName
	after  map[string]string // the files once it has ended
}

// filesOf are the files of a folder without the temporary ones of a program that was
// killed, whose number comes beside.
func filesOf(t *testing.T, dir string) (files map[string]string, temporary int) {
	t.Helper()
	files = map[string]string{}
	for _, path := range listing(t, dir)[1:] {
		if strings.HasPrefix(filepath.Base(path), ".blowdraw-") && filepath.Base(path) != madeName {
			temporary++
			continue
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			t.Fatal(err)
		}
		files[name] = read(t, path)
	}
	return files, temporary
}

// restore makes a folder hold just these files.
func restore(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if _, ok := files[e.Name()]; !ok {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
	for name, text := range files {
		if now, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(now) != text {
			put(t, dir, name, []byte(text))
		}
	}
}

// in runs the program in a folder, after the words of another program that it is run by.
func in(t *testing.T, dir string, by []string, args ...string) (c *exec.Cmd, stdout, stderr *bytes.Buffer) {
	t.Helper()
	c = program(t, args...)
	if len(by) > 0 {
		programs.Need(t, by[0])
		with := exec.Command(by[0], append(slices.Clone(by[1:]), c.Args...)...)
		with.Env = c.Env
		c = with
	}
	c.Dir = dir
	stdout, stderr = &bytes.Buffer{}, &bytes.Buffer{}
	c.Stdout, c.Stderr = stdout, stderr
	return c, stdout, stderr
}

// ends runs the program to its end.
func ends(t *testing.T, dir string, by []string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	c, out, trouble := in(t, dir, by, args...)
	c.Run()
	return c.ProcessState.ExitCode(), out.String(), trouble.String()
}

// jobsOf are the commands that write, each with what it writes when nothing goes wrong.
func jobsOf(t *testing.T, dir string) []job {
	t.Helper()
	clip, _, _, err := decode.Load(put(t, t.TempDir(), demo.Name, demo.Recording()), decode.Options{To: 2.5})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := decode.WriteWAV(&b, clip); err != nil {
		t.Fatal(err)
	}
	sound := b.String()
	restore(t, dir, map[string]string{"a.wav": sound})
	code, heard, stderr := ends(t, dir, nil, "transcribe", "a.wav", "--harp", "A")
	if code != 0 {
		t.Fatal(stderr)
	}
	lines := strings.SplitAfter(heard, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "0:0") && !strings.Contains(l, "?") {
			lines[i] = strings.TrimSuffix(l, "\n") + " ?\n"
		}
	}
	doubtful := strings.Join(lines, "") + "# mine\n"
	with := func(more map[string]string) map[string]string {
		files := map[string]string{"a.wav": sound, "b.tab": doubtful}
		maps.Copy(files, more)
		return files
	}
	album := with(map[string]string{"edited.wav": sound, "edited.tab": doubtful})
	var tabs []string
	for i := range 5 {
		album[fmt.Sprint(i, ".wav")] = string(wavOf(t, tone(0.5+float64(i)/10)))
		tabs = append(tabs, fmt.Sprint(i, ".tab"))
	}
	many := []string{"transcribe", ".", "--harp", "C", "--ear", "classical", "--jobs", "2"}
	jobs := []job{
		{name: "transcribe", before: with(map[string]string{"a.tab": "mine\n"}), writes: []string{"a.tab"},
			args: []string{"transcribe", "a.wav", "--harp", "A", "-o", "a.tab", "--force"}},
		{name: "refine", before: with(nil), writes: []string{"b.tab"},
			args: []string{"refine", "b.tab", "--recording", "a.wav", "-o", "b.tab", "--force"}},
		{name: "page", before: with(nil), writes: []string{"a.html"},
			args: []string{"page", "a.wav", "b.tab", "-o", "a.html", "--force"}},
		{name: "batch", before: album, writes: append(tabs, "a.tab"), args: many, notes: true},
		{name: "render", before: with(nil), writes: []string{"a.flac"},
			args: []string{"render", "b.tab", "-o", "a.flac", "--force"}},
		{name: "export", before: with(map[string]string{"x.xml": "mine\n"}), writes: []string{"x.xml"},
			args: []string{"export", "b.tab", "--as", "musicxml", "-o", "x.xml", "--force"}},
	}
	// The old outputs of the batch are those of another tuning.
	restore(t, dir, album)
	if code, _, stderr := ends(t, dir, nil, append(many, "--tuning", "1")...); code != 0 {
		t.Fatal(stderr)
	}
	jobs[3].before, _ = filesOf(t, dir)
	jobs[3].before["edited.tab"] = doubtful
	for i := range jobs {
		jobs[i].prove(t, dir)
	}
	return jobs
}

// prove finds what a job writes when nothing goes wrong.
func (j *job) prove(t *testing.T, dir string) {
	t.Helper()
	restore(t, dir, j.before)
	if code, _, stderr := ends(t, dir, nil, j.args...); code != 0 {
		t.Fatalf("%s: exit code %d: %s", j.name, code, stderr)
	}
	j.after, _ = filesOf(t, dir)
	for _, name := range j.writes {
		if j.after[name] == j.before[name] || j.after[name] == "" {
			t.Fatalf("%s: %s is as before", j.name, name)
		}
	}
	for name, text := range j.before {
		if !j.written(name) && j.after[name] != text {
			t.Fatalf("%s: %s has changed", j.name, name)
		}
	}
}

func (j *job) written(name string) bool {
	return slices.Contains(j.writes, name) || j.notes && name == madeName
}

// whole wants every file to be the old or the new one, and all others as they were. It
// returns how many temporary files there are, and how many files are lost.
func (j *job) whole(t *testing.T, dir, what string) (temporary, lost int) {
	t.Helper()
	files, temporary := filesOf(t, dir)
	for name := range j.before {
		if _, ok := files[name]; !ok {
			lost++
			t.Errorf("%s, %s: %s is lost", j.name, what, name)
		}
	}
	for name, text := range files {
		was, before := j.before[name]
		if before && was == text || slices.Contains(j.writes, name) && text == j.after[name] {
			continue
		}
		if !j.notes || name != madeName {
			lost++
			t.Errorf("%s, %s: %s is neither old nor new: %.300q", j.name, what, name, text)
		}
	}
	return temporary, lost
}

// goesOn wants the next run to do what was left, and reports whether it does.
func (j *job) goesOn(t *testing.T, dir, what string) bool {
	t.Helper()
	args := slices.DeleteFunc(slices.Clone(j.args), func(a string) bool { return a == "--again" })
	code, stdout, stderr := ends(t, dir, nil, args...)
	files, _ := filesOf(t, dir)
	delete(files, madeName)
	want := maps.Clone(j.after)
	delete(want, madeName)
	kept := !j.notes || strings.Contains(stdout, "1 kept, 0 failed")
	if code != 0 || !maps.Equal(files, want) || !kept {
		t.Errorf("%s, %s: the next run ends with exit code %d, stderr %q\n%s", j.name, what, code, stderr, stdout)
		return false
	}
	return true
}

// creations tells of every file that is made in a folder (inotify(7)).
func creations(t *testing.T, dir string) (made <-chan bool, stop func()) {
	t.Helper()
	fd, err := unix.InotifyInit1(unix.IN_CLOEXEC | unix.IN_NONBLOCK)
	if err != nil {
		t.Skip(err)
	}
	if _, err := unix.InotifyAddWatch(fd, dir, unix.IN_CREATE); err != nil {
		t.Fatal(err)
	}
	f, events := os.NewFile(uintptr(fd), "inotify"), make(chan bool, 1000)
	go func() {
		defer close(events)
		buf := make([]byte, 4096)
		for {
			n, err := f.Read(buf)
			if err != nil {
				return
			}
			for at := 0; at+unix.SizeofInotifyEvent <= n; {
				at += unix.SizeofInotifyEvent + int(buf[at+12]) + int(buf[at+13])<<8 // struct inotify_event: len
				events <- true
			}
		}
	}()
	return events, func() { f.Close() }
}

// kill runs a job and kills it at a random moment: anywhere, or just when a file is made.
// It reports whether it came before the job had ended.
func (j *job) kill(t *testing.T, dir string, r *rand.Rand, takes time.Duration) bool {
	t.Helper()
	c, _, _ := in(t, dir, nil, j.args...)
	made, stop := creations(t, dir)
	defer stop()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan bool)
	go func() {
		c.Wait()
		close(ended)
	}()
	wait := time.Duration(r.Float64() * 1.05 * float64(takes))
	if r.IntN(2) == 0 { // a job makes a file to see that it can, another to see it once more, and the last
		for range 1 + r.IntN(3*len(j.writes)) {
			select {
			case <-made:
			case <-ended:
			}
		}
		wait = time.Duration(r.Float64() * float64(2*time.Millisecond))
	}
	select {
	case <-time.After(wait):
	case <-ended:
	}
	c.Process.Kill()
	<-ended
	return !c.ProcessState.Exited()
}

// A program that is killed at any moment leaves each file whole, the old or the new one,
// an edited tab as it was, and the next run goes on.
func TestKilled(t *testing.T) {
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(1, uint64(*faults)))
	for _, j := range jobsOf(t, dir) {
		restore(t, dir, j.before)
		begun := time.Now()
		ends(t, dir, nil, j.args...)
		takes := time.Since(begun)
		killed, halfWritten, replaced, lost, stuck := 0, 0, 0, 0, 0
		for n := 0; killed < *faults && n < 10**faults; n++ {
			restore(t, dir, j.before)
			if !j.kill(t, dir, r, takes) {
				continue
			}
			killed++
			what := fmt.Sprintf("kill %d", n)
			left, gone := j.whole(t, dir, what)
			lost += gone
			if left > 0 {
				halfWritten++
			}
			if files, _ := filesOf(t, dir); files[j.writes[0]] != j.before[j.writes[0]] {
				replaced++
			}
			if !j.goesOn(t, dir, what) {
				stuck++
			}
		}
		if killed < *faults {
			t.Errorf("%s: only %d runs were killed before their end", j.name, killed)
		}
		t.Logf("%-10s %4d kills: %d files lost, %d next runs failed; %2d left a temporary file, "+
			"%3d a new file in place", j.name, killed, lost, stuck, halfWritten, replaced)
	}
}

// A file may become so many bytes long (setrlimit(2), RLIMIT_FSIZE): every command fails,
// says which file and what to do, leaves the old file, and nothing else.
func TestFileSizeLimit(t *testing.T) {
	dir := t.TempDir()
	for _, j := range jobsOf(t, dir) {
		size := 0
		for _, name := range j.writes {
			size = max(size, len(j.after[name]))
		}
		tries := min(size, *faults)
		if j.name == "export" && *faults >= 1000 {
			tries = size
		}
		failed, lost := 0, 0
		for n := range tries {
			limit := n * size / tries
			restore(t, dir, j.before)
			code, _, stderr := ends(t, dir, []string{"prlimit", fmt.Sprint("--fsize=", limit)}, j.args...)
			what := fmt.Sprintf("%d of %d bytes", limit, size)
			named := slices.ContainsFunc(j.writes, func(name string) bool {
				return strings.Contains(stderr, "can't write "+name+": file too large\n")
			})
			if code != exitFailed || !named || !strings.Contains(stderr, "ulimit -f") {
				t.Errorf("%s, %s: exit code %d, %s", j.name, what, code, stderr)
				continue
			}
			failed++
			left, gone := j.whole(t, dir, what)
			if lost += gone; left > 0 {
				t.Errorf("%s, %s: %d temporary files are left", j.name, what, left)
			}
			if n%10 == 0 {
				j.goesOn(t, dir, what)
			}
		}
		t.Logf("%-10s %4d limits from 0 to %d bytes: %d files lost", j.name, failed, size, lost)
	}
}

// A disk without room for any file, one that turned read-only, a folder that nobody but
// root may write, one that is removed meanwhile, and one that is a file meanwhile.
func TestFolderTrouble(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("mounting needs root")
	}
	dir, small := t.TempDir(), t.TempDir()
	jobs := jobsOf(t, dir)
	mount := func(options string) {
		t.Helper()
		args := []string{"-t", "tmpfs", "-o", options, "tmpfs", small}
		if strings.HasPrefix(options, "remount") {
			args = []string{"-o", options, small}
		}
		if out, err := exec.Command("mount", args...).CombinedOutput(); err != nil {
			t.Skipf("mounting a small disk: %v: %s", err, out)
		}
	}
	defer exec.Command("umount", small).Run()
	for _, j := range jobs {
		for _, trouble := range []struct{ options, then, say, hint string }{
			{fmt.Sprint("size=16m,nr_inodes=", len(j.before)+1), "", "no space left on device\n", "Make room there"},
			{"size=16m", "remount,ro", "read-only file system\n", "Choose another folder"},
		} {
			mount(trouble.options)
			restore(t, small, j.before)
			if trouble.then != "" {
				mount(trouble.then)
			}
			code, _, stderr := ends(t, small, nil, j.args...)
			if code != exitFailed || !strings.Contains(stderr, "can't write "+j.writes[0]+": "+trouble.say) ||
				!strings.Contains(stderr, trouble.hint) {
				t.Errorf("%s on a disk with %s: exit code %d, %s", j.name, trouble, code, stderr)
			}
			if left, _ := j.whole(t, small, trouble.say); left > 0 {
				t.Errorf("%s: %d temporary files are left", j.name, left)
			}
			if out, err := exec.Command("umount", small).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
		}
	}
}

// Without the right to write, as another user than root.
func TestNotAllowed(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("to become another user needs root")
	}
	dir := t.TempDir()
	for _, j := range jobsOf(t, dir) {
		restore(t, dir, j.before)
		c, _, stderr := in(t, dir, nil, j.args...)
		// The program and the folder lie where another user may not look: they are reached
		// through descriptors that are open already.
		for path := dir; path != filepath.Dir(path); path = filepath.Dir(path) {
			if info, err := os.Stat(path); err == nil && info.Mode()&0o005 != 0o005 {
				if err := os.Chmod(path, info.Mode()|0o055); err != nil {
					t.Fatal(err)
				}
			}
		}
		for _, name := range slices.Collect(maps.Keys(j.before)) {
			os.Chmod(filepath.Join(dir, name), 0o644)
		}
		for path := filepath.Dir(c.Path); path != filepath.Dir(path); path = filepath.Dir(path) {
			if info, err := os.Stat(path); err == nil && info.Mode()&0o005 != 0o005 && path != "/root" {
				os.Chmod(path, info.Mode()|0o055)
			}
		}
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		if err := c.Run(); c.ProcessState == nil {
			t.Skipf("another user can't run the program: %v", err)
		}
		if code := c.ProcessState.ExitCode(); code != exitFailed ||
			!strings.Contains(stderr.String(), "can't write "+j.writes[0]+": you may not write there\n") ||
			!strings.Contains(stderr.String(), "Choose another folder") {
			t.Errorf("%s: exit code %d, %s", j.name, code, stderr)
		}
		if left, _ := j.whole(t, dir, "not allowed"); left > 0 {
			t.Errorf("%s: %d temporary files are left", j.name, left)
		}
	}
}

// A folder that is removed, or becomes a file, while the program listens.
func TestFolderGone(t *testing.T) {
	dir := t.TempDir()
	sound := string(wavOf(t, slices.Repeat(tone(1), 20)))
	for _, becomes := range []string{"nothing", "a file"} {
		for _, args := range [][]string{{"-o", "out/a.tab"}, {"--dir", "out"}} {
			restore(t, dir, map[string]string{"a.wav": sound})
			out := filepath.Join(dir, "out")
			if err := os.Mkdir(out, 0o755); err != nil {
				t.Fatal(err)
			}
			c, _, stderr := in(t, dir, nil, append([]string{"transcribe", "a.wav", "--harp", "C"}, args...)...)
			made, stop := creations(t, out)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			<-made // it has seen that it can write there
			for os.Remove(out) != nil {
				time.Sleep(time.Millisecond)
			}
			if becomes == "a file" {
				put(t, dir, "out", []byte("mine"))
			}
			c.Wait()
			stop()
			say := "there is no folder out\nMake it first"
			if becomes == "a file" {
				say = "not a directory\nChoose another folder"
			}
			if c.ProcessState.ExitCode() != exitFailed || !strings.Contains(stderr.String(), "out/a.tab: "+say) {
				t.Errorf("out becomes %s, %q: exit code %d, %s", becomes, args, c.ProcessState.ExitCode(), stderr)
			}
			os.Remove(out)
		}
	}
}

// Two runs over one folder at once: each tab is the one's or the other's, and known
// to the next run, which has nothing to keep.
func TestTwoRunsAtOnce(t *testing.T) {
	dir := t.TempDir()
	j := jobsOf(t, dir)[3]
	versions := map[string]map[string]string{}
	for _, tuning := range []string{"2", "3"} {
		restore(t, dir, j.before)
		ends(t, dir, nil, append(slices.Clone(j.args), "--tuning", tuning)...)
		versions[tuning], _ = filesOf(t, dir)
	}
	lost := 0
	for n := range *faults {
		restore(t, dir, j.before)
		one, _, err1 := in(t, dir, nil, append(slices.Clone(j.args), "--tuning", "2")...)
		two, _, err2 := in(t, dir, nil, append(slices.Clone(j.args), "--tuning", "3")...)
		if one.Start() != nil || two.Start() != nil {
			t.Fatal("the program does not start")
		}
		one.Wait()
		two.Wait()
		if one.ProcessState.ExitCode() != 0 || two.ProcessState.ExitCode() != 0 {
			t.Errorf("exit codes %d and %d, %s%s",
				one.ProcessState.ExitCode(), two.ProcessState.ExitCode(), err1, err2)
		}
		files, left := filesOf(t, dir)
		for name, text := range files {
			if text != versions["2"][name] && text != versions["3"][name] && name != madeName {
				lost++
				t.Errorf("pair %d: %s is neither's: %.300q", n, name, text)
			}
		}
		if left > 0 || len(files) != len(versions["2"]) {
			t.Errorf("pair %d: %d files, %d temporary ones", n, len(files), left)
		}
		j.goesOn(t, dir, fmt.Sprint("pair ", n))
	}
	// Both may write one new file: one does, the other says that it is there.
	for n := range *faults {
		restore(t, dir, map[string]string{"a.wav": j.before["a.wav"]})
		args := []string{"transcribe", "a.wav", "--harp", "A", "--ear", "classical", "-o", "a.tab"}
		one, _, err1 := in(t, dir, nil, args...)
		two, _, err2 := in(t, dir, nil, args...)
		if one.Start() != nil || two.Start() != nil {
			t.Fatal("the program does not start")
		}
		one.Wait()
		two.Wait()
		codes := one.ProcessState.ExitCode() + two.ProcessState.ExitCode()
		if said := err1.String() + err2.String(); codes != exitFailed ||
			strings.Count(said, "can't write a.tab: it exists already\n") != 1 {
			t.Errorf("pair %d: exit codes add up to %d: %s", n, codes, said)
		}
		if text := read(t, dir, "a.tab"); !strings.HasPrefix(text, "blowdraw tab 1\n") {
			t.Errorf("pair %d: %.100q", n, text)
		}
	}
	t.Logf("%d pairs of runs over a folder, %d for one file, %d files lost", *faults, *faults, lost)
}

// A recording that is cut, replaced, grown or removed while it is heard: a tab of what there
// was, or one line that names it, and the next run hears it as it was.
func TestRecordingChanges(t *testing.T) {
	dir := t.TempDir()
	clip, _, _, err := decode.Load(put(t, t.TempDir(), demo.Name, demo.Recording()), decode.Options{To: 8})
	if err != nil {
		t.Fatal(err)
	}
	var wav, flac bytes.Buffer
	if err := decode.WriteWAV(&wav, clip); err != nil {
		t.Fatal(err)
	}
	if err := decode.WriteFLAC(&flac, clip.Rate, [][]float64{clip.Samples}); err != nil {
		t.Fatal(err)
	}
	sounds := map[string]string{"a.wav": wav.String(), "a.flac": flac.String()}
	put(t, dir, "a.wav", wav.Bytes())
	for _, coded := range []struct{ name, program string }{{"a.mp3", "lame"}, {"a.ogg", "oggenc"}} {
		programs.Need(t, coded.program)
		args := []string{"--quiet", "a.wav", coded.name}
		if coded.program == "oggenc" {
			args = []string{"--quiet", "-o", coded.name, "a.wav"}
		}
		c := exec.Command(coded.program, args...)
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		sounds[coded.name] = read(t, dir, coded.name)
	}
	changes := map[string]func(path string, b []byte) error{
		"cut":     func(path string, b []byte) error { return os.Truncate(path, int64(len(b)/3)) },
		"emptied": func(path string, b []byte) error { return os.Truncate(path, 0) },
		"removed": func(path string, b []byte) error { return os.Remove(path) },
		"grown":   func(path string, b []byte) error { return os.WriteFile(path, slices.Concat(b, b), 0o600) },
		"other": func(path string, b []byte) error {
			return os.WriteFile(path, bytes.Repeat([]byte("x"), len(b)), 0o600)
		},
		"replaced": func(path string, b []byte) error { return os.Rename(path+".new", path) },
	}
	// Frames overwritten under the reader are damaged, and the recording ends early: a warning
	// each, before the error and its hint.
	const warnings = 2
	r := rand.New(rand.NewPCG(2, 2))
	for _, name := range slices.Sorted(maps.Keys(sounds)) {
		args := []string{"transcribe", name, "--harp", "A", "-o", "a.tab", "--force"}
		restore(t, dir, map[string]string{name: sounds[name]})
		begun := time.Now()
		if code, _, stderr := ends(t, dir, nil, args...); code != 0 {
			t.Fatal(stderr)
		}
		takes, want := time.Since(begun), read(t, dir, "a.tab")
		told, heard, lost := 0, 0, 0
		for _, change := range slices.Sorted(maps.Keys(changes)) {
			for range (*faults + 2) / 3 {
				restore(t, dir, map[string]string{name: sounds[name], name + ".new": sounds[name][:len(sounds[name])/2],
					"a.tab": "mine\n"})
				c, _, stderr := in(t, dir, nil, args...)
				if err := c.Start(); err != nil {
					t.Fatal(err)
				}
				time.Sleep(time.Duration(r.Float64() * float64(takes)))
				if err := changes[change](filepath.Join(dir, name), []byte(sounds[name])); err != nil {
					t.Fatal(err)
				}
				c.Wait()
				got := read(t, dir, "a.tab")
				switch code := c.ProcessState.ExitCode(); {
				case code == exitFailed && strings.Contains(stderr.String(), name) && got == "mine\n" &&
					strings.Count(stderr.String(), "\n") <= warnings+2:
					told++
				case code == 0 && strings.HasPrefix(got, "blowdraw tab 1\n"):
					heard++
				default:
					lost++
					t.Errorf("%s %s: exit code %d, %s, tab %.200q", name, change, code, stderr, got)
				}
			}
		}
		restore(t, dir, map[string]string{name: sounds[name]})
		if ends(t, dir, nil, args...); read(t, dir, "a.tab") != want {
			t.Errorf("%s: afterwards another tab", name)
		}
		t.Logf("%-10s %4d changes while it is heard: %d told, %d heard to their end, %d otherwise",
			name, told+heard+lost, told, heard, lost)
	}
}

// Clocks that were wrong, or jump: files from 1901 and from 2106 are up to date if they hold
// what they did, and are written anew if not.
func TestClocksJump(t *testing.T) {
	dir := t.TempDir()
	j := jobsOf(t, dir)[3]
	times := []time.Time{time.Unix(-1<<31, 0), time.Unix(0, 0), time.Unix(1<<31, 0), time.Unix(1<<32-1, 0)}
	for _, at := range times {
		for _, sound := range times {
			restore(t, dir, j.before)
			for name := range j.before {
				then := at
				if strings.HasSuffix(name, ".wav") {
					then = sound
				}
				if err := os.Chtimes(filepath.Join(dir, name), then, then); err != nil {
					t.Fatal(err)
				}
			}
			args := append(slices.Clone(j.args), "--tuning", "1")
			if code, stdout, stderr := ends(t, dir, nil, args...); code != 0 ||
				!strings.Contains(stdout, "0 written, 6 up to date, 1 kept") {
				t.Errorf("%v and %v: exit code %d, %s\n%s", at, sound, code, stderr, stdout)
			}
			put(t, dir, "0.wav", wavOf(t, tone(0.9)))
			os.Chtimes(filepath.Join(dir, "0.wav"), sound, sound)
			if code, stdout, stderr := ends(t, dir, nil, args...); code != 0 ||
				!strings.Contains(stdout, "1 written, 5 up to date, 1 kept") {
				t.Errorf("%v and %v, changed: exit code %d, %s\n%s", at, sound, code, stderr, stdout)
			}
		}
	}
}
