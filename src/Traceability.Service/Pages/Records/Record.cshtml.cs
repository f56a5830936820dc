using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Pages.Records;

/// <summary>Where a record stands in the sealed log.</summary>
public sealed record SealState(Mark Mark, string Text, bool Sealed);

[Authorize(Policy = Access.Read)]
public sealed class RecordModel(RecordReader reader, LogReader log, PlantSettings plant) : PageModel
{
    private static readonly JsonSerializerOptions Readable = new() { WriteIndented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public Guid Id { get; private set; }

    public RecordAround? Around { get; private set; }

    public SealState Seal { get; private set; } = new(default, "", false);

    public string Raw { get; private set; } = "";

    public string Pretty { get; private set; } = "";

    /// <summary>Subjects the record ties together, its own first.</summary>
    public IReadOnlyList<Subject> Subjects { get; private set; } = [];

    public async Task OnGetAsync(Guid id, CancellationToken cancel)
    {
        Id = id;
        Around = await reader.OneAsync(id, cancel);
        if (Around is null)
        {
            Response.StatusCode = StatusCodes.Status404NotFound;
            return;
        }

        var record = Around.Record;
        Raw = Encoding.UTF8.GetString(record.Bytes.Span);
        using (var document = JsonDocument.Parse(record.Bytes)) Pretty = JsonSerializer.Serialize(document.RootElement, Readable);
        Subjects = [.. record.Links().SelectMany(l => l.Kind == LinkKind.About ? [l.From] : new[] { l.From, l.To }).Distinct()];
        Seal = await SealAsync(record.Id, cancel);
    }

    private async Task<SealState> SealAsync(Guid id, CancellationToken cancel)
    {
        if (await log.IndexOfAsync(id, cancel) is not { } index) return new(new("…", "recorded, no leaf yet", Urgency.None), "The log gives it a leaf within seconds.", false);
        if (await log.LatestAsync(cancel) is not { } latest || index >= latest.Size) return new(new("…", "recorded, not sealed yet", Urgency.None), $"Leaf {index}; the next checkpoint covers it.", false);
        try
        {
            var proof = (await log.ProveAsync([id], latest, cancel))[0];
            return new(new("✓", "sealed", Urgency.None), $"Leaf {index} of {latest.Size} in {latest.Origin}, sealed {plant.Exact(latest.SealedAt)}. The inclusion proof of {Words.Count(proof.Path.Count, "hash", "hashes")} leads to the signed root {Convert.ToHexStringLower(latest.Root)}; checked while this page was made.", true);
        }
        catch (LogContradictionException e)
        {
            return new(new("!", "contradiction", Urgency.Act), e.Message + " Tell the administrator: the log or the database was changed.", false);
        }
    }
}
