using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Verifier;

/// <summary>One thing that is wrong.</summary>
/// <param name="File">The file it was found in.</param>
/// <param name="What">In plain words.</param>
/// <param name="Line">Line of the file, from 1, where there is one.</param>
/// <param name="Record">The record's id, where it is about one.</param>
public sealed record Problem(string File, string What, int? Line = null, string? Record = null);

/// <summary>What came of the checks.</summary>
public sealed class Report
{
    internal static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
        Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    private const int Shown = 25;

    /// <summary><c>proved</c>, <c>consistent</c> (no key and no checkpoint from elsewhere) or <c>failed</c>.</summary>
    public string Result => Problems.Count > 0 ? "failed" : OriginEstablished ? "proved" : "consistent";

    /// <summary>Whether a key or checkpoint from elsewhere vouches for what was checked.</summary>
    public bool OriginEstablished { get; set; }

    /// <summary>The log.</summary>
    public string? Origin { get; set; }

    /// <summary>Leaves the checkpoint signs.</summary>
    public long? Size { get; set; }

    /// <summary>Root the checkpoint signs, hex.</summary>
    public string? Root { get; set; }

    /// <summary>Records looked at.</summary>
    public int Records { get; set; }

    /// <summary>Citations of records in the findings.</summary>
    public int Citations { get; set; }

    /// <summary>What was found in order.</summary>
    public List<string> Checked { get; } = [];

    /// <summary>What the reader should know, short of a fault.</summary>
    public List<string> Remarks { get; } = [];

    /// <summary>What is wrong.</summary>
    public List<Problem> Problems { get; } = [];

    internal void Wrong(string file, string what, int? line = null, string? record = null) =>
        Problems.Add(new Problem(file, what, line, record));

    /// <summary>Notes a check as passed if it found nothing.</summary>
    internal void Check(string passed, Action check)
    {
        var before = Problems.Count;
        check();
        if (Problems.Count == before)
        {
            Checked.Add(passed);
        }
    }

    internal void Print(TextWriter output)
    {
        // What a packet says must not reach the terminal as commands to it.
        var lines = new StringWriter();
        Write(lines);
        output.Write(new string([.. lines.ToString().Select(c => char.IsControl(c) && c is not ('\n' or '\r') ? '?' : c)]));
    }

    private void Write(TextWriter output)
    {
        foreach (var line in Checked)
        {
            output.WriteLine($"  ok     {line}");
        }

        foreach (var problem in Problems.Take(Shown))
        {
            output.WriteLine($"  WRONG  {problem.File}{(problem.Line is { } line ? $", line {line}" : "")}: {problem.What}");
        }

        if (Problems.Count > Shown)
        {
            output.WriteLine($"  WRONG  and {Problems.Count - Shown} more; --json lists all.");
        }

        foreach (var line in Remarks)
        {
            output.WriteLine($"  note   {line}");
        }

        output.WriteLine(Result switch
        {
            "proved" => $"Proved: {Records} records are in the log {Origin} as signed at {Size} records.",
            "consistent" => $"Consistent, origin not established: {Records} records fit together, but no key or checkpoint from elsewhere "
                + $"says that the log {Origin} is the plant's. Ask the plant for its key on another way and give it with --key.",
            _ => $"Failed: {Problems.Count} {(Problems.Count == 1 ? "thing is" : "things are")} wrong.",
        });
    }
}
