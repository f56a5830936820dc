using System.ComponentModel;
using System.Text;
using System.Text.Json;
using Spectre.Console.Cli;
using Traceability.Service.Recall;

namespace Traceability.Service.Commands;

public sealed class RecallSettings : VerbSettings
{
    [CommandArgument(0, "<SUBJECT>")]
    [Description("kind:id, for example lot:producer/number, storage:silo-2, instrument:AM-1, unit:RF-0101.")]
    public required string Subject { get; set; }

    [CommandOption("--direction <DIRECTION>")]
    [Description("up: units that it reaches; down: what it is made from; both. Up when not given, both for a unit.")]
    public string? Direction { get; set; }

    [CommandOption("--csv")]
    [Description("The answer as CSV on standard output.")]
    public bool Csv { get; set; }
}

/// <summary>Which units does a subject reach and where are they; what is it made from.</summary>
public sealed class RecallVerb : Verb<RecallSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, RecallSettings settings, CancellationToken cancel)
    {
        var subject = SubjectOf(settings.Subject);
        var direction = settings.Direction ?? (subject.Kind == "unit" ? "both" : "up");
        if (direction is not ("up" or "down" or "both")) throw VerbException.Called("--direction is up, down or both.");
        var recall = services.GetRequiredService<RecallReader>();
        var up = direction != "down" ? await recall.UpAsync(subject, cancel) : null;
        var down = direction != "up" ? await recall.DownAsync(subject, null, cancel) : null;
        if (up is not { Units.Count: > 0 } && down is not { Subjects.Count: > 0 } && !await recall.IsKnownAsync(subject, cancel))
            throw VerbException.NotThere($"No record names {subject}. Check how it is written: kind:id.");
        if (settings.Csv)
        {
            await terminal.Out.WriteAsync(up is not null ? RecallText.Csv(up, 0, up.Units.Count) : RecallText.Csv(down!));
        }
        else if (settings.Json)
        {
            using var bytes = new MemoryStream();
            await using (var json = new Utf8JsonWriter(bytes)) RecallText.Write(json, subject, up, down, 0, up?.Units.Count ?? 0);
            await terminal.Out.WriteLineAsync(Encoding.UTF8.GetString(bytes.GetBuffer(), 0, (int)bytes.Length));
        }
        else
        {
            if (up is not null) Show(terminal, up);
            if (down is not null)
            {
                terminal.Table(["made from, judged by, governed by", "how", "link"], down.Subjects.Select(s => new[] { s.Subject.Key, RecallText.How(s.How), Link(s.Certain, s.Named) }), $"{subject} is made from nothing that a record names.");
            }
        }

        return ExitCodes.Done;
    }

    private static void Show(Terminal terminal, RecallUp up)
    {
        var counts = up.Counts;
        terminal.Table(["unit", "how", "link", "where", "contract"],
            up.Units.Select(u => new[] { u.Serial, RecallText.How(u.How), Link(u.Certain, u.Named), u.Place ?? "not in a form yet", u.Contract }), $"{up.Subject} reaches no unit.");
        terminal.Out.WriteLine($"As of log position {up.Position}: certainly in {counts.Certain}, possibly in {counts.Possible}, judged {counts.Judged}, governs {counts.Governed}, no longer named {counts.NoLongerNamed}; {counts.Shipped} shipped."
            + (up.Judged ? "" : $" {counts.Waiting} wait to be judged."));
    }

    private static string Link(bool certain, bool? named) => (certain ? "certain" : "possible") + (named switch { true => "", false => ", no longer named", _ => ", waits to be judged" });
}
