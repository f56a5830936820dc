using System.Buffers.Binary;
using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.Time.Testing;
using Traceability.Service.Log;
using Traceability.Service.Tests.Verifying;
using Traceability.Verifier;
using Traceability.Verifier.Witness;

namespace Traceability.Service.Tests.Hostile;

/// <summary>The verifier's command line in this process, and what holds of every answer of it.</summary>
internal static class Verify
{
    public const string Origin = "plant.example/records", Earlier = "plant.example/earlier", WitnessName = "agency.example/witness";

    /// <summary>Keys that are the same in every run, so that inputs are.</summary>
    public static readonly LogKey Key = KeyOf("log"), EarlierKey = KeyOf("earlier log"), Stranger = KeyOf("stranger"), WitnessKey = KeyOf("witness");

    // Bytes that are no point of the curve, or one of the few under which anything seems signed (RFC 8032 and the published lists of such points).
    public static readonly string[] Points =
    [
        "0100000000000000000000000000000000000000000000000000000000000000", "0000000000000000000000000000000000000000000000000000000000000000", "0000000000000000000000000000000000000000000000000000000000000080",
        "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", "ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a", "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05", "0200000000000000000000000000000000000000000000000000000000000000",
    ];

    private static readonly string[] s_results = ["proved", "failed", "", "consistent", "draft"];

    private static LogKey KeyOf(string whose) => LogKey.FromSeed(SHA256.HashData(Encoding.ASCII.GetBytes("hostile inputs: " + whose)));

    public static string KeyLine(string name, byte kind, byte[] key) => $"{name}+{Convert.ToHexStringLower(KeyHash(name, kind, key))}+{Convert.ToBase64String([kind, .. key])}";

    public static byte[] KeyHash(string name, byte kind, byte[] key) => SHA256.HashData([.. Encoding.UTF8.GetBytes(name), 0x0a, kind, .. key])[..4];

    /// <summary>A cosignature of the witness (C2SP tlog-cosignature).</summary>
    public static string Cosigned(string body, ulong time)
    {
        var stamped = new byte[8];
        BinaryPrimitives.WriteUInt64BigEndian(stamped, time);
        var signature = WitnessKey.Sign(Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"cosignature/v1\ntime {time}\n{body}")));
        return $"\u2014 {WitnessName} {Convert.ToBase64String([.. KeyHash(WitnessName, 4, WitnessKey.PublicKey), .. stamped, .. signature])}\n";
    }

    /// <summary>Runs the verifier. Its answer names what it found in plain text, and fits its exit code.</summary>
    public static (int Exit, string Said) Run(Attempt a, bool mayBeUsage, params string[] args)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var json = a.OneIn(3);
        var exit = Command.Run(json ? [.. args, "--json"] : args, output, error);
        var said = output.ToString() + error;
        Attempt.Require(exit is >= 0 and <= 4, $"exit code {exit}");
        Attempt.Require(mayBeUsage || exit != Command.Usage, "what is wrong in a file is told as if the call were wrong: " + said);
        Attempt.Require(said.Length > 20 && said.All(c => c is '\n' or (>= ' ' and <= '~')), "its answer is not plain text");
        if (exit != Command.Usage && json)
        {
            using var report = JsonDocument.Parse(output.ToString());
            Attempt.Require(report.RootElement.GetProperty("exitCode").GetInt32() == exit && report.RootElement.GetProperty("result").GetString() == s_results[exit], "the result as JSON is another than the exit code");
            var problems = report.RootElement.GetProperty("problems").EnumerateArray().ToList();
            Attempt.Require(exit == Command.Failed ? problems.Count > 0 && problems.TrueForAll(p => p.GetProperty("file").GetString()!.Length > 0 && p.GetProperty("what").GetString()!.Length > 8) : problems.Count == 0, "failed without naming what and where");
        }
        else if (exit == Command.Failed)
        {
            Attempt.Require(said.Contains("WRONG", StringComparison.Ordinal) && !said.Split('\n').Any(l => l.StartsWith("Proved", StringComparison.Ordinal)), "failed without naming what and where");
        }

        return (exit, said);
    }

    /// <summary>The text of a note that is signed: everything up to the last empty line.</summary>
    public static string Body(byte[] note)
    {
        var text = Encoding.UTF8.GetString(note);
        var end = text.LastIndexOf("\n\n", StringComparison.Ordinal);
        return end < 0 ? text : text[..(end + 1)];
    }

    /// <summary>A note spoilt: its bytes, its lines, its signatures, thousands of them, or signed by another.</summary>
    public static byte[] Note(Attempt a, byte[] right, string name)
    {
        var (text, body) = (Encoding.UTF8.GetString(right), Body(right));
        // Spoilt so far that it is no note any more: then its bytes are.
        if (body.Length == text.Length) return Spoil.Bytes(a, right);
        var signatures = text[(body.Length + 1)..];
        string Line(byte[] signature) => $"\u2014 {name} {Convert.ToBase64String([.. KeyHash(name, 1, Key.PublicKey), .. signature])}\n";
        byte[] Random(int length)
        {
            var bytes = new byte[length];
            a.Random.NextBytes(bytes);
            return bytes;
        }

        var made = a.Below(12) switch
        {
            0 or 1 => null,
            2 => body + "\n" + string.Concat(Enumerable.Range(0, a.Of((int[])[10, 100, 400, 700, 3000])).Select(_ => Line(Random(64)))) + (a.OneIn(2) ? signatures : ""),
            3 => body + "\n" + Line(a.Of((byte[][])[new byte[64], [1, .. new byte[63]], Random(64), Random(63), Random(65), []])),
            4 => SignedNote.Sign(body, name, Stranger),
            5 => SignedNote.Sign(Changed(a, body), name, a.OneIn(2) ? Stranger : EarlierKey),
            6 => Changed(a, body) + "\n" + signatures,
            7 => body + "\n" + signatures + signatures,
            8 => body + "\n" + signatures.Replace(name, a.Of((string[])["", "x", name + "/x", "pl\u0430nt.example/records", "\u202e"]), StringComparison.Ordinal),
            9 => body + "\n\n" + signatures,
            10 => text.Replace("\n", "\r\n", StringComparison.Ordinal),
            // The signature with its second half moved on by the order of the group: the same to a verifier that does not look.
            _ => body + "\n" + Line(Moved(Signature(signatures))),
        };
        return made is null ? Spoil.Bytes(a, right) : Encoding.UTF8.GetBytes(made);
    }

    private static byte[] Signature(string lines)
    {
        var bytes = new byte[200];
        return lines.Split(' ', '\n') is { Length: > 2 } parts && Convert.TryFromBase64String(parts[2], bytes, out var length) && length == 68 ? bytes[4..68] : new byte[64];
    }

    private static byte[] Moved(byte[] signature)
    {
        var order = Convert.FromHexString("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
        var moved = (byte[])signature.Clone();
        var carry = 0;
        for (var i = 0; i < 32 && 32 + i < moved.Length; i++)
        {
            carry += moved[32 + i] + order[i];
            moved[32 + i] = (byte)carry;
            carry >>= 8;
        }

        return moved;
    }

    private static string Changed(Attempt a, string body)
    {
        var lines = body.TrimEnd('\n').Split('\n');
        var at = a.Below(lines.Length);
        lines[at] = a.Below(4) switch { 0 => a.Of((string[])["", "0", "-1", "01", "9223372036854775807", "9223372036854775808", "1e3", "=", "AAAA"]), 1 => lines[a.Below(lines.Length)], 2 => lines[at] + "\n" + lines[at], _ => Spoil.Text(a, lines[at]) };
        return new string([.. string.Join('\n', lines).Where(c => c == '\n' || c >= ' ')]) + "\n";
    }
}

/// <summary>A folder that is empty again before each input.</summary>
internal sealed class Desk : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("hostile-").FullName;

    public string Put(string name, byte[] bytes)
    {
        var path = Path.Combine(_folder, name);
        File.WriteAllBytes(path, bytes);
        return path;
    }

    public string Folder(string name, IReadOnlyDictionary<string, byte[]> files)
    {
        var path = Fresh(name);
        Directory.CreateDirectory(path);
        foreach (var (file, bytes) in files) File.WriteAllBytes(Path.Combine(path, file), bytes);
        return path;
    }

    public string Fresh(string name)
    {
        var path = Path.Combine(_folder, name);
        if (Directory.Exists(path)) Directory.Delete(path, recursive: true);
        return path;
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}

/// <summary>The export of a whole log, its checkpoint, keys, witnesses and successions.</summary>
internal sealed class LogTarget : Target
{
    private readonly Desk _desk = new();
    private readonly byte[][] _lines;
    private readonly byte[] _log, _checkpoint, _succession;
    private readonly string _key, _pem, _witness, _earlier, _handedTo;

    public LogTarget()
    {
        using var sample = new SamplePacket(Verify.Key);
        _lines = [.. sample.Log.Take(6)];
        _log = [.. _lines.SelectMany(l => l.Append((byte)'\n'))];
        var checkpoint = new Checkpoint(Verify.Origin, 5, Merkle.Root([.. _lines.Take(5).Select(l => Merkle.LeafHash(l))]));
        _checkpoint = Encoding.UTF8.GetBytes(checkpoint.Sign(Verify.Key) + Verify.Cosigned(checkpoint.Text(), 1_774_018_830));
        _key = Verify.Key.VerifierKey(Verify.Origin);
        _pem = Verify.Key.PublicPem();
        _witness = Verify.KeyLine(Verify.WitnessName, 4, Verify.WitnessKey.PublicKey);
        _earlier = Verify.EarlierKey.VerifierKey(Verify.Earlier);
        // What an earlier key signs counts, whatever it says of where its log ended; to whom it is handed down may not change.
        _handedTo = $"\n{Verify.Origin}\n{_key}\n";
        _succession = Encoding.UTF8.GetBytes(SignedNote.Sign($"succession/v1\n{Verify.Earlier}\n9\n{Convert.ToBase64String(new byte[32])}\n{Verify.Origin}\n{_key}\n", Verify.Earlier, Verify.EarlierKey));
    }

    public override string Name => "verifier: log, notes, keys";

    public override int Share => 600;

    public override Task<Answer> TryAsync(Attempt a)
    {
        var control = a.OneIn(20);
        var (asPem, handedDown, witnessed) = (a.OneIn(4), a.OneIn(3), a.OneIn(2));
        var key = handedDown ? _earlier : asPem ? _pem : _key;
        var (log, checkpoint, witness, succession) = (_log, _checkpoint, _witness, _succession);
        if (!control)
        {
            switch (a.Below(6))
            {
                case 0: log = Lines(a); break;
                case 1 or 2: checkpoint = Verify.Note(a, _checkpoint, Verify.Origin); break;
                case 3: key = Key(a, key, handedDown ? Verify.Earlier : Verify.Origin, 1); break;
                case 4: (witness, witnessed) = (Key(a, _witness, Verify.WitnessName, 4), true); break;
                default: (succession, handedDown, key) = (Statements(a), true, a.OneIn(4) ? Verify.EarlierKey.PublicPem() : _earlier); break;
            }
        }

        if (a.OneIn(10)) checkpoint = [.. checkpoint, .. Encoding.UTF8.GetBytes(Verify.Cosigned(Verify.Body(checkpoint), a.Of((ulong[])[0, 1, 253402300800, long.MaxValue, ulong.MaxValue])))];
        a.Keep("log.jsonl", log);
        a.Keep("checkpoint.txt", checkpoint);
        a.Keep("key.txt", key);
        a.Keep("witness.txt", witness);
        a.Keep("succession.txt", succession);
        List<string> args = ["--log", _desk.Put("log.jsonl", log), "--checkpoint", _desk.Put("checkpoint.txt", checkpoint), "--key", a.OneIn(2) || key.Contains('\n', StringComparison.Ordinal) ? _desk.Put("key.txt", Encoding.UTF8.GetBytes(key)) : key];
        if (key == _pem) args.AddRange(["--origin", Verify.Origin]);
        if (witnessed) args.AddRange(["--witness", _desk.Put("witness.txt", Encoding.UTF8.GetBytes(witness))]);
        if (handedDown) args.AddRange(["--succession", _desk.Put("succession.txt", succession)]);
        var (exit, said) = Verify.Run(a, true, [.. args]);
        if (control) Attempt.Require(exit == Command.Ok, "what is right is not proved: " + said);
        if (exit != Command.Ok) return Task.FromResult(Answer.Refused);

        // Lines after the checkpoint are not covered, and signature lines of others change nothing; all else must be what was signed.
        Attempt.Require(Covered(log), "a changed line is proved");
        Attempt.Require(Verify.Body(checkpoint) == Verify.Body(_checkpoint), "a changed checkpoint is proved");
        Attempt.Require(!witnessed || Same(witness, _witness), "cosigned by a witness that did not");
        Attempt.Require(handedDown ? Encoding.UTF8.GetString(succession).Contains(_handedTo, StringComparison.Ordinal) && (Same(key, _earlier) || key == Verify.EarlierKey.PublicPem()) : Same(key, _key) || Same(key, _pem), "proved by another key");
        return Task.FromResult(Answer.Taken);
    }

    private bool Covered(byte[] log)
    {
        var at = 0;
        foreach (var line in _lines.Take(5))
        {
            if (!log.AsSpan(at).StartsWith(line) || (at + line.Length < log.Length && log[at + line.Length] != '\n')) return false;
            at = Math.Min(log.Length, at + line.Length + 1);
        }

        return true;
    }

    // The same name and bytes, however blanks or a byte order mark stand around them.
    private static bool Same(string given, string right) => Stripped(given) == Stripped(right);

    private static string Stripped(string key) => string.Concat(key.TrimStart('\ufeff').Trim().Split('\n').Where(l => !l.StartsWith("-----", StringComparison.Ordinal)).SelectMany(l => l.Where(c => !char.IsWhiteSpace(c))));

    private byte[] Lines(Attempt a)
    {
        var lines = _lines.ToList();
        var at = a.Below(5);
        switch (a.Below(6))
        {
            case 0: lines.RemoveAt(at); break;
            case 1: lines.Insert(at, lines[a.Below(6)]); break;
            case 2: (lines[at], lines[at + 1]) = (lines[at + 1], lines[at]); break;
            case 3: lines[at] = "{\"continues\":{\"origin\":\"x\",\"size\":1e999}}"u8.ToArray(); break;
            default: lines[at] = Spoil.Json(a, lines[at], lines[a.Below(6)]); break;
        }

        byte[] all = [.. lines.SelectMany(l => l.Append((byte)'\n'))];
        return a.OneIn(6) ? Spoil.Bytes(a, all) : all;
    }

    private string Key(Attempt a, string right, string name, byte kind) => a.Below(7) switch
    {
        0 => Verify.KeyLine(name, kind, Convert.FromHexString(a.Of(Verify.Points))),
        1 => Verify.KeyLine(name, kind, Verify.Stranger.PublicKey),
        2 => Verify.KeyLine(a.Of((string[])["x", "", "a+b", "pl\u0430nt.example/records", new string('x', 300)]), kind, Verify.Key.PublicKey),
        3 => a.OneIn(2) ? Verify.Key.PrivatePem() : Verify.Stranger.PublicPem(),
        4 => Verify.KeyLine(name, (byte)a.Below(6), kind == 4 ? Verify.WitnessKey.PublicKey : Verify.Key.PublicKey),
        5 => right + a.Of((string[])["=", " ", "x", "\n", "\n\n" + right]),
        _ => Spoil.Text(a, right),
    };

    private byte[] Statements(Attempt a)
    {
        var text = Encoding.UTF8.GetString(_succession);
        // Keys named by a place on the disk are no keys; nor are those of strangers, or of a log that goes on as itself.
        string Statement(string from, string to, string key, LogKey by) => SignedNote.Sign($"succession/v1\n{from}\n9\n{Convert.ToBase64String(new byte[32])}\n{to}\n{key}\n", from.Length == 0 ? "x" : from, by);
        return Encoding.UTF8.GetBytes(a.Below(9) switch
        {
            0 => Statement(Verify.Earlier, Verify.Origin, "/dev/zero", Verify.EarlierKey),
            1 => Statement(Verify.Earlier, Verify.Origin, _key, Verify.Stranger),
            2 => Statement(Verify.Earlier, Verify.Earlier, _earlier, Verify.EarlierKey) + text,
            3 => text + Statement(Verify.Origin, Verify.Earlier, _earlier, Verify.Key),
            4 => string.Concat(Enumerable.Repeat(Statement(Verify.Earlier, Verify.Origin, Verify.Stranger.VerifierKey(Verify.Origin), Verify.Stranger), a.Of((int[])[2, 50, 2000]))) + (a.OneIn(2) ? text : ""),
            5 => Encoding.UTF8.GetString(Verify.Note(a, _succession, Verify.Earlier)),
            6 => string.Concat(Enumerable.Repeat("succession/v1\n", a.Of((int[])[10, 70_000]))) + text,
            // One statement with as many signature lines of the right key's name as fit.
            7 => Verify.Body(_succession) + "\n" + string.Concat(Enumerable.Repeat($"\u2014 {Verify.Earlier} {Convert.ToBase64String([.. SignedNote.KeyHash(Verify.Earlier, Verify.EarlierKey.PublicKey), .. new byte[64]])}\n", a.Of((int[])[10, 600, 8000]))),
            _ => Spoil.Text(a, text),
        });
    }

    public override ValueTask DisposeAsync()
    {
        _desk.Dispose();
        return ValueTask.CompletedTask;
    }
}

/// <summary>Packets, as folders and as zip files.</summary>
internal sealed class PacketTarget : Target
{
    private static readonly string[] s_notes = ["checkpoint.txt", "issue-checkpoint.txt", "manifest.sig"];

    // What the manifest lists, itself, and what the log's leaf is: not a byte of it may change. Of a signed note the text may not; others may sign it too.
    private static readonly string[] s_exact = ["checkpoint.txt", "findings.json", "packet.pdf", "proofs.json", "records.jsonl", "manifest.json", "issue-record.jsonl"];

    private readonly Desk _desk = new();
    private readonly SamplePacket _sample = new(Verify.Key);
    private readonly SortedDictionary<string, byte[]> _right, _before;
    private readonly string _key = Verify.Key.VerifierKey(Verify.Origin);

    public PacketTarget()
    {
        _sample.SealAsBefore();
        _before = Files();
        _sample.Seal();
        _right = Files();
    }

    public override string Name => "verifier: packets and zip";

    public override int Share => 700;

    public override Task<Answer> TryAsync(Attempt a)
    {
        var of = a.OneIn(6) ? _before : _right;
        var files = new SortedDictionary<string, byte[]>(of, StringComparer.Ordinal);
        var (control, lying, sealedAnew) = (a.OneIn(25), false, false);
        if (!control)
        {
            switch (a.Below(5))
            {
                case 0 or 1: lying = true; break;
                case 2 when of == _right: (files, sealedAnew) = (SealedAnew(a), true); break;
                default: Spoilt(a, files); break;
            }
        }

        foreach (var (name, bytes) in files) a.Keep(name, bytes);
        string packet;
        if (lying || a.OneIn(2)) packet = _desk.Put("packet.zip", a.Keep("packet.zip", lying ? a.OneIn(4) ? Spoil.Bytes(a, Repack.Plain(a, files)) : Repack.Lying(a, files) : Repack.Plain(a, files)));
        else packet = _desk.Folder("packet", files);
        string[] call = a.Below(6) switch
        {
            0 => [packet],
            1 => [packet, "--key", _desk.Put("key.pem", Encoding.ASCII.GetBytes(Verify.Key.PublicPem())), "--origin", Verify.Origin],
            2 => [packet, "--key", _key, "--checkpoint", _desk.Put("kept.txt", _right["checkpoint.txt"])],
            _ => [packet, "--key", _key],
        };
        var (exit, said) = Verify.Run(a, false, call);
        if (control) Attempt.Require(exit == (call.Length == 1 ? Command.NotProved : Command.Ok), "what is right is not proved: " + said);
        if (exit is Command.Failed or Command.Draft) return Task.FromResult(Answer.Refused);
        Attempt.Require(exit == Command.NotProved || call.Length > 1, "proved without a key");
        if (sealedAnew)
        {
            // The holder of the key may seal what he will: then it is his packet. Read and refused, or held to be what he made of it.
            return Task.FromResult(Answer.Taken);
        }

        var folder = _desk.Fresh("out");
        var (again, why) = Verify.Run(a, false, [.. call, "--extract", folder]);
        Attempt.Require(again == exit, "another answer to the same packet: " + why);
        AsIssued(Directory.GetFiles(folder).ToDictionary(f => Path.GetFileName(f), File.ReadAllBytes, StringComparer.Ordinal), of, packet, exit);
        return Task.FromResult(Answer.Taken);
    }

    private static void AsIssued(Dictionary<string, byte[]> found, SortedDictionary<string, byte[]> right, string packet, int exit)
    {
        Attempt.Require(found.Keys.Except(right.Keys).All(f => f == "succession.txt") && right.Keys.All(found.ContainsKey), "files were added or are missing");
        // Without a key nothing is said of who made it; what is told is that it agrees with itself.
        foreach (var name in s_exact.Where(n => right.ContainsKey(n) && exit == Command.Ok)) Attempt.Require(found[name].AsSpan().SequenceEqual(right[name]), $"a changed {name} is proved");
        foreach (var name in s_notes.Where(n => right.ContainsKey(n) && exit == Command.Ok)) Attempt.Require(Verify.Body(found[name]) == Verify.Body(right[name]), $"a changed {name} is proved");
        if (!packet.EndsWith(".zip", StringComparison.Ordinal)) return;
        // What another reader of zip files sees.
        using var zip = System.IO.Compression.ZipFile.OpenRead(packet);
        foreach (var entry in zip.Entries.Where(e => e.Name.Length > 0))
        {
            using var stream = entry.Open();
            using var content = new MemoryStream();
            stream.CopyTo(content);
            Attempt.Require(found.TryGetValue(entry.Name, out var bytes) && bytes.AsSpan().SequenceEqual(content.ToArray()), $"another reader sees another {entry.Name}");
        }
    }

    private static void Spoilt(Attempt a, SortedDictionary<string, byte[]> files)
    {
        for (var changes = 1 + a.Below(2); changes > 0; changes--)
        {
            var name = a.Of(files.Keys.ToList());
            if (a.OneIn(12)) files.Remove(name);
            else if (a.OneIn(12)) files[a.Of((string[])["letter.txt", "packet-1.pdf", "x", "succession.txt", "Manifest.json"])] = a.OneIn(2) ? files[name] : Statements(a);
            else files[name] = One(a, name, files[name], files[a.Of(files.Keys.ToList())]);
        }

        // What looks at one file only is often satisfied by the next: sums and manifest are put in agreement.
        if (a.OneIn(3) && files.ContainsKey("manifest.json") && a.OneIn(2)) Listed(files);
        if (a.OneIn(2) && files.ContainsKey("SHA256SUMS"))
            files["SHA256SUMS"] = Encoding.UTF8.GetBytes(string.Concat(files.Where(f => f.Key != "SHA256SUMS").Select(f => $"{Hex(f.Value)}  {f.Key}\n")));
    }

    private static byte[] One(Attempt a, string name, byte[] right, byte[] other)
    {
        if (s_notes.Contains(name) && right.Length > 64) return Verify.Note(a, right, name == "manifest.sig" ? Verify.Origin + "/manifest" : Verify.Origin);
        if (name.EndsWith(".jsonl", StringComparison.Ordinal) && right.Length > 1 && a.OneIn(2))
        {
            var lines = Encoding.UTF8.GetString(right).TrimEnd('\n').Split('\n');
            var at = a.Below(lines.Length);
            lines[at] = Encoding.UTF8.GetString(Spoil.Json(a, Encoding.UTF8.GetBytes(lines[at]), other));
            return Encoding.UTF8.GetBytes(string.Join('\n', lines) + "\n");
        }

        return name.EndsWith(".json", StringComparison.Ordinal) && right.Length > 0 ? Spoil.Json(a, right, other) : Spoil.Bytes(a, right, other);
    }

    private static void Listed(SortedDictionary<string, byte[]> files)
    {
        try
        {
            var manifest = System.Text.Json.Nodes.JsonNode.Parse(files["manifest.json"])!;
            if (manifest["files"] is not System.Text.Json.Nodes.JsonObject listed) return;
            foreach (var (name, _) in listed.ToList())
            {
                if (files.TryGetValue(name, out var bytes)) listed[name] = new System.Text.Json.Nodes.JsonObject { ["sha256"] = Hex(bytes), ["size"] = bytes.Length };
            }

            files["manifest.json"] = Core.Records.CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(manifest));
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException or ArgumentException or Core.Records.CanonicalJsonException)
        {
            // Spoilt so far that nothing can be put in agreement: then it stays so.
        }
    }

    // Content that nobody would write, under the right key's signatures, so that every check is reached.
    private SortedDictionary<string, byte[]> SealedAnew(Attempt a)
    {
        var name = a.Of((string[])["findings.json", "proofs.json", "records.jsonl", "checkpoint.txt", "packet.pdf", "manifest"]);
        try
        {
            if (name == "manifest")
            {
                _sample.Seal(manifest: m =>
                {
                    var member = a.Of(m.Select(p => p.Key).ToList());
                    var spoilt = Spoil.Json(a, JsonSerializer.SerializeToUtf8Bytes(m[member]), _right["findings.json"]);
                    try
                    {
                        m[member] = System.Text.Json.Nodes.JsonNode.Parse(spoilt);
                    }
                    catch (JsonException)
                    {
                        m.Remove(member);
                    }

                    if (a.OneIn(4)) m["supplement"] = new System.Text.Json.Nodes.JsonObject { ["packet"] = "PK-1", ["number"] = a.Below(3), ["manifestSha256"] = new string('a', 64), ["answers"] = m["units"]?.DeepClone(), ["forms"] = m["pending"]?.DeepClone() };
                });
            }
            else
            {
                _sample.Write(name, One(a, name, _right[name], _right[a.Of(s_exact)]));
                _sample.Seal();
            }

            return Files();
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException or ArgumentException or FormatException or Core.Records.CanonicalJsonException or Core.Events.FactShapeException)
        {
            // It cannot even be written by who seals it; what was spoilt goes as it is.
            return Files();
        }
        finally
        {
            foreach (var (file, bytes) in _right) _sample.Write(file, bytes);
        }
    }

    private static byte[] Statements(Attempt a) => Encoding.UTF8.GetBytes(a.Below(3) switch
    {
        0 => $"succession/v1\n{Verify.Origin}\n9\n{Convert.ToBase64String(new byte[32])}\n{Verify.Origin}\n/dev/zero\n\n\u2014 x y\n",
        1 => string.Concat(Enumerable.Repeat("succession/v1\n\n", 3000)),
        _ => SignedNote.Sign($"succession/v1\n{Verify.Origin}\n9\n{Convert.ToBase64String(new byte[32])}\n{Verify.Earlier}\n{Verify.EarlierKey.VerifierKey(Verify.Earlier)}\n", Verify.Origin, a.OneIn(2) ? Verify.Key : Verify.Stranger),
    });

    private SortedDictionary<string, byte[]> Files() => new(Directory.GetFiles(_sample.Path).ToDictionary(f => Path.GetFileName(f), File.ReadAllBytes), StringComparer.Ordinal);

    private static string Hex(byte[] bytes) => Convert.ToHexStringLower(SHA256.HashData(bytes));

    public override ValueTask DisposeAsync()
    {
        _desk.Dispose();
        _sample.Dispose();
        return ValueTask.CompletedTask;
    }
}

/// <summary>What a witness is asked to cosign, and the files that it keeps.</summary>
internal sealed class WitnessTarget : Target
{
    private static readonly FakeTimeProvider s_clock = new(new DateTimeOffset(2026, 3, 20, 15, 0, 30, TimeSpan.Zero));

    private readonly Desk _desk = new();
    private readonly string _dir, _log;
    private readonly SortedDictionary<string, byte[]> _kept = new(StringComparer.Ordinal);
    private readonly Checkpoint _five, _eight, _forked;
    private readonly string _proof;

    public WitnessTarget()
    {
        byte[][] leaves = [.. Enumerable.Range(0, 8).Select(i => Merkle.LeafHash([(byte)i]))];
        _five = new Checkpoint(Verify.Origin, 5, Merkle.Root(leaves[..5]));
        _eight = new Checkpoint(Verify.Origin, 8, Merkle.Root(leaves));
        _forked = new Checkpoint(Verify.Origin, 8, Merkle.Root([.. leaves[..7], Merkle.LeafHash("forked"u8)]));
        _proof = string.Concat(Merkle.ConsistencyRanges(5, 8).Select(r => Convert.ToBase64String(Merkle.Root(leaves[(int)r.Low..(int)r.High])) + "\n"));
        _dir = _desk.Fresh("witness");
        Right("new", _dir, "--name", Verify.WitnessName);
        Right("watch", _dir, Verify.Key.VerifierKey(Verify.Origin));
        Right("cosign", _dir, _desk.Put("first", Encoding.UTF8.GetBytes("old 0\n\n" + _five.Sign(Verify.Key))));
        _log = Directory.GetDirectories(Path.Combine(_dir, "logs")).Single();
        foreach (var file in Directory.GetFiles(_dir).Concat(Directory.GetFiles(_log)).Where(f => !f.EndsWith(".lock", StringComparison.Ordinal))) _kept[file] = File.ReadAllBytes(file);
    }

    public override string Name => "verifier: witness";

    public override int Share => 49;

    public override Task<Answer> TryAsync(Attempt a)
    {
        var request = $"old 5\n{_proof}\n{_eight.Sign(Verify.Key)}";
        var spoilsMemory = a.OneIn(4);
        if (spoilsMemory)
        {
            var file = a.Of(_kept.Keys.ToList());
            File.WriteAllBytes(file, a.Keep("memory-" + Path.GetFileName(file), a.OneIn(3) ? Verify.Note(a, Encoding.UTF8.GetBytes(_five.Sign(Verify.Key)), Verify.Origin) : Spoil.Bytes(a, _kept[file])));
        }
        else if (!a.OneIn(12))
        {
            request = a.Below(6) switch
            {
                0 => $"old 5\n{_proof}\n{_forked.Sign(Verify.Key)}",
                1 => $"old {a.Of((string[])["0", "8", "4", "-5", "05", "9223372036854775808", ""])}\n{_proof}\n{_eight.Sign(Verify.Key)}",
                2 => $"old 5\n{string.Concat(Enumerable.Repeat(Convert.ToBase64String(new byte[32]) + "\n", a.Of((int[])[0, 1, 3, 63, 64, 1000])))}\n{(a.OneIn(2) ? _eight : _forked).Sign(Verify.Key)}",
                3 => $"old 5\n{_proof}\n{_eight.Sign(Verify.Stranger)}",
                4 => $"old 5\n{_proof}\n{Encoding.UTF8.GetString(Verify.Note(a, Encoding.UTF8.GetBytes(_eight.Sign(Verify.Key)), Verify.Origin))}",
                _ => Encoding.UTF8.GetString(Spoil.Bytes(a, Encoding.UTF8.GetBytes(request))),
            };
        }

        a.Keep("request.txt", request);
        try
        {
            using var output = new StringWriter();
            using var error = new StringWriter();
            string[] call = spoilsMemory && a.OneIn(2) ? ["show", _dir] : ["cosign", _dir, _desk.Put("request.txt", Encoding.UTF8.GetBytes(request))];
            var exit = WitnessCommand.Run(call, output, error, s_clock, CancellationToken.None);
            Attempt.Require(exit is Command.Ok or Command.Failed or Command.Usage && (output.ToString() + error).Length > 10, "no answer in words");
            Attempt.Require(error.ToString().All(c => c is '\n' or (>= ' ' and <= '~')), "its answer is not plain text");
            if (exit != Command.Ok || call[0] == "show") return Task.FromResult(exit == Command.Ok ? Answer.Taken : Answer.Refused);
            // Cosigned is only what goes on from what it cosigned before; its own memory is its word.
            Attempt.Require(spoilsMemory || request.Contains("old 5\n" + _proof + "\n" + _eight.Text(), StringComparison.Ordinal), "something else was cosigned");
            Attempt.Require(Encoding.UTF8.GetString(File.ReadAllBytes(Path.Combine(_log, "checkpoint"))).StartsWith(_eight.Text(), StringComparison.Ordinal), "what was cosigned is not kept");
            return Task.FromResult(Answer.Taken);
        }
        finally
        {
            foreach (var (file, bytes) in _kept) File.WriteAllBytes(file, bytes);
        }
    }

    private static void Right(params string[] words)
    {
        using var said = new StringWriter();
        Attempt.Require(WitnessCommand.Run(words, said, said, s_clock, CancellationToken.None) == 0, said.ToString());
    }

    public override ValueTask DisposeAsync()
    {
        _desk.Dispose();
        return ValueTask.CompletedTask;
    }
}

/// <summary>A megabyte that unpacks to hundreds, in a process of its own whose largest memory the kernel tells.</summary>
internal sealed class BombTarget : Target
{
    private const int LargestZip = 1 << 20;

    private readonly Desk _desk = new();
    private readonly SortedDictionary<string, byte[]> _right;

    public BombTarget()
    {
        using var sample = new SamplePacket(Verify.Key);
        _right = new(Directory.GetFiles(sample.Path).ToDictionary(f => Path.GetFileName(f), File.ReadAllBytes), StringComparer.Ordinal);
    }

    public override string Name => "verifier: zip bombs";

    public override int Share => 1;

    public override double MostMegabytes => 200;

    // A gigabyte is unpacked and hashed, and the machine is shared.
    public override TimeSpan Longest => TimeSpan.FromSeconds(40);

    public override async Task<Answer> TryAsync(Attempt a)
    {
        var file = a.Of((string[])[.. _right.Keys, "extra.bin", "succession.txt"]);
        var (head, unit, tail) = a.Of(((string, string, string)[])
        [
            ("", "\0", ""), ("", "\n", ""), ("", "a", ""), ("[", "0,", "0]"), ("{\"proofs\":[", "[{}],", "0]}"), ("[\"", "x", "\"]"), ("{\"units\":[", "\"\",", "0]}"), ("", "[", ""), ("", "{\"a\":", ""), ("", "\u2014 a AAAA\n", ""), ("x\n\n", "\u2014 x AAAAAAAA\n", ""),
            ("", "succession/v1\n", ""), ("", "{\"continues\":1}\n", ""), ("", "{}\n", ""), ("", "0000000000000000000000000000000000000000000000000000000000000000  a\n", ""), ("[", "{\"unit\":\"u\"},", "0]"), ("[\"", "\\u0041", "\"]"), ("{", "\"a\":1,", "\"b\":1}"),
        ]);
        var megabytes = a.Of((int[])[1, 7, 8, 30, 31, 32, 100, 400, 700, 1000, 1100]);
        a.Keep("bomb.txt", $"{file}: {head}{unit}...{tail}, {megabytes} MB");
        var zip = Packed(file, head, unit, tail, megabytes);
        a.Keep("bomb.zip", zip);
        var program = Path.Combine(AppContext.BaseDirectory, "traceability-verify.dll");
        using var process = Process.Start(new ProcessStartInfo("python3", ["-c", "import resource,subprocess,sys\nr=subprocess.run(sys.argv[1:],stdout=subprocess.DEVNULL)\nprint(r.returncode,resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)",
            "dotnet", program, _desk.Put("bomb.zip", zip), "--key", Verify.Key.VerifierKey(Verify.Origin)]) { RedirectStandardOutput = true })!;
        var said = (await process.StandardOutput.ReadToEndAsync()).Split(' ');
        await process.WaitForExitAsync();
        var megabytesHeld = int.Parse(said[1], CultureInfo.InvariantCulture) / 1024.0;
        Attempt.Require(said[0] == "1", $"exit code {said[0]}");
        return new Answer(false, megabytesHeld);
    }

    private byte[] Packed(string file, string head, string unit, string tail, int megabytes)
    {
        var block = Encoding.UTF8.GetBytes(string.Concat(Enumerable.Repeat(unit, 65_536 / unit.Length)));
        using var zip = new MemoryStream();
        using (var archive = new ZipArchive(zip, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var (name, bytes) in _right.Where(f => f.Key != file))
            {
                using var right = archive.CreateEntry(name).Open();
                right.Write(bytes);
            }

            using var entry = archive.CreateEntry(file, CompressionLevel.SmallestSize).Open();
            entry.Write(Encoding.UTF8.GetBytes(head));
            // What does not pack as small ends earlier: the file that is sent is a megabyte.
            for (var left = (long)megabytes << 20; left > 0 && zip.Length < LargestZip - 40_000; left -= block.Length) entry.Write(block);
            entry.Write(Encoding.UTF8.GetBytes(tail));
        }

        return zip.ToArray();
    }

    public override ValueTask DisposeAsync()
    {
        _desk.Dispose();
        return ValueTask.CompletedTask;
    }
}
