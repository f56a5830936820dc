using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Verifier;

/// <summary>One thing that is wrong.</summary>
/// <param name="File">The file it was found in.</param>
/// <param name="What">In plain words.</param>
/// <param name="Line">Line of the file, from 1, where there is one.</param>
/// <param name="Record">The record's id, where it is about one.</param>
public sealed record Problem(string File, string What, int? Line = null, string? Record = null);

/// <summary>A result that the packet says is still to come.</summary>
public sealed record StillPending(string Unit, string Requirement, string Subject);

/// <summary>What the packet says it is. Said by its manifest, which is proved only where the result says so.</summary>
/// <param name="Packet">Its number.</param>
/// <param name="IssuedAt">As written, UTC.</param>
/// <param name="IssuedBy">Person id.</param>
/// <param name="SupplementTo">The packet it supplements, where it is a supplement.</param>
public sealed record Subject(
    string? Packet, string? Contract, IReadOnlyList<string> Units, string? IssuedAt, string? IssuedBy, bool Draft,
    IReadOnlyList<StillPending> Pending, string? SupplementTo);

/// <summary>What came of the checks.</summary>
public sealed class Report
{
    // All that is not plain text is escaped: what a packet says must not reach a terminal as commands to it.
    internal static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    };

    private const int Shown = 25;

    /// <summary>Problems kept one by one; of more only the number is known. Our own choice.</summary>
    private const int Kept = 1000;

    /// <summary>
    /// <c>failed</c>; <c>draft</c> (nothing wrong, and signed by nobody); <c>consistent</c> (nothing wrong, and not proved, by
    /// what <see cref="NotProvedBecause"/> says); <c>proved</c>.
    /// </summary>
    public string Result => Wrongs > 0 ? "failed" : About is { Draft: true } ? "draft" : NotProvedBecause.Count > 0 ? "consistent" : "proved";

    /// <summary>Exit code of the program.</summary>
    public int ExitCode => Result switch { "failed" => Command.Failed, "draft" => Command.Draft, "consistent" => Command.NotProved, _ => Command.Ok };

    /// <summary>What the packet says it is; null for a log.</summary>
    public Subject? About { get; internal set; }

    /// <summary>The log.</summary>
    public string? Origin { get; set; }

    /// <summary>Leaves the checkpoint signs.</summary>
    public long? Size { get; set; }

    /// <summary>Root the checkpoint signs, hex.</summary>
    public string? Root { get; set; }

    /// <summary>The record that says who issued the packet; null where it was made before there were such records.</summary>
    public string? IssueRecord { get; internal set; }

    /// <summary>Records looked at.</summary>
    public int Records { get; set; }

    /// <summary>Citations of records in the findings.</summary>
    public int Citations { get; set; }

    /// <summary>Folder the checked files were written to, where that was asked.</summary>
    public string? Extracted { get; internal set; }

    /// <summary>What was found in order.</summary>
    public List<string> Checked { get; } = [];

    /// <summary>What the reader should know, short of a fault.</summary>
    public List<string> Remarks { get; } = [];

    /// <summary>Why nothing is proved though nothing is wrong.</summary>
    public List<string> NotProvedBecause { get; } = [];

    /// <summary>What is wrong: the first thousand.</summary>
    public List<Problem> Problems { get; } = [];

    /// <summary>How many things are wrong.</summary>
    public int Wrongs { get; private set; }

    internal void Wrong(string file, string what, int? line = null, string? record = null)
    {
        Wrongs++;
        if (Problems.Count < Kept)
        {
            Problems.Add(new Problem(Cut(file), Cut(what), line, record));
        }
    }

    /// <summary>What ended the checks before their end; it stands first.</summary>
    internal void Stopped(string file, string what)
    {
        Wrongs++;
        Problems.Insert(0, new Problem(Cut(file), Cut(what)));
    }

    /// <summary>Notes a check as passed if it found nothing.</summary>
    internal void Check(string passed, Action check)
    {
        var before = Wrongs;
        check();
        if (Wrongs == before)
        {
            Checked.Add(passed);
        }
    }

    /// <summary>
    /// Plain text only: control characters, those that turn the direction of writing or are not seen, and letters that look
    /// like others are written by their number.
    /// </summary>
    public static string Plain(string text)
    {
        if (text.All(c => c is >= ' ' and <= '~'))
        {
            return text;
        }

        var plain = new StringBuilder();
        foreach (var c in text)
        {
            if (c is >= ' ' and <= '~')
            {
                plain.Append(c);
            }
            else
            {
                plain.Append(CultureInfo.InvariantCulture, $"\\u{(int)c:x4}");
            }
        }

        return plain.ToString();
    }

    internal void Print(TextWriter output)
    {
        foreach (var line in Lines())
        {
            output.WriteLine(Plain(line));
        }
    }

    private IEnumerable<string> Lines()
    {
        foreach (var line in Checked)
        {
            yield return $"  ok     {line}";
        }

        foreach (var problem in Problems.Take(Shown))
        {
            yield return $"  WRONG  {problem.File}{(problem.Line is { } line ? string.Create(CultureInfo.InvariantCulture, $", line {line}") : "")}: {problem.What}";
        }

        if (Wrongs > Shown)
        {
            yield return $"  WRONG  and {Wrongs - Shown} more{(Wrongs <= Kept ? "; --json lists all" : "")}.";
        }

        foreach (var line in Remarks)
        {
            yield return $"  note   {line}";
        }

        if (About is { } about)
        {
            yield return (about.Draft ? "DRAFT   " : "Packet  ") + Said(about.Packet) + (about.SupplementTo is null ? "" : $", supplement to {about.SupplementTo}");
            yield return $"  contract  {Said(about.Contract)}";
            yield return $"  units     {(about.Units.Count == 0 ? "none named" : string.Join(", ", about.Units))}";
            yield return $"  issued    {Said(about.IssuedAt)} by {Said(about.IssuedBy)}";
            yield return $"  pending   {(about.Pending.Count == 0 ? "nothing" : about.Pending.Count.ToString(CultureInfo.InvariantCulture))}";
            foreach (var item in about.Pending.Take(Shown))
            {
                yield return $"            {item.Unit}: {item.Requirement} ({item.Subject})";
            }

            if (about.Pending.Count > Shown)
            {
                yield return $"            and {about.Pending.Count - Shown} more; --json lists all.";
            }
        }

        yield return Result switch
        {
            "proved" when About is not null => $"Proved: this is the packet that the holder of the key issued. Its {Records} records are in the log {Origin} as signed at {Size} records.",
            "proved" => $"Proved: {Records} records are the log {Origin} as signed at {Size} records.",
            "draft" => "A DRAFT for the plant's own review. It was not issued, nobody signed it, and it proves nothing.",
            "consistent" => "Consistent, origin not established: nothing contradicts itself, and nothing is proved. " + string.Join(" ", NotProvedBecause),
            _ => $"Failed: {Wrongs} {(Wrongs == 1 ? "thing is" : "things are")} wrong. Do not rely on it.",
        };
    }

    private static string Said(string? text) => string.IsNullOrEmpty(text) ? "not said" : text;

    private static string Cut(string text) => text.Length <= 2000 ? text : text[..2000] + "...";
}
