using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using Npgsql;
using Traceability.Service.Operations;

namespace Traceability.Service.Log;

/// <summary>
/// The log as C2SP tlog-tiles (published, 0.1) has it: checkpoint, tiles of hashes, bundles of entries. Anybody may read hashes: they tell how
/// many records there are and nothing of what is in them. Entries are the records themselves.
/// </summary>
public static class TileEndpoints
{
    /// <summary>Largest note that is taken in, bytes.</summary>
    private const int LargestNote = 16 * 1024;

    /// <summary>An entry's length stands in two bytes.</summary>
    private const int LargestEntry = ushort.MaxValue;

    // C2SP tlog-tiles asks for the charset.
    private const string PlainText = "text/plain; charset=utf-8";

    /// <summary>Maps <c>/log/checkpoint</c>, <c>/log/tile/...</c> and <c>/log/cosignatures</c>.</summary>
    /// <param name="open">Policy of what anybody may read.</param>
    /// <param name="entries">Policy of the records themselves.</param>
    public static void MapTiles(this IEndpointRouteBuilder app, Action<IEndpointConventionBuilder> open, Action<IEndpointConventionBuilder> entries)
    {
        var log = app.MapGroup("/log").WithTags("Log");
        open(log.MapGet("/checkpoint", CheckpointAsync).WithSummary("The newest checkpoint, with the cosignatures known of it (C2SP tlog-tiles)").Produces<string>(200, "text/plain").ProducesProblem(404));
        open(log.MapGet("/tile/{level:int}/{**index}", TileAsync).WithSummary("A tile of hashes (C2SP tlog-tiles)").Produces<byte[]>(200, "application/octet-stream").ProducesProblem(404));
        entries(log.MapGet("/tile/entries/{**index}", EntriesAsync).WithSummary("A bundle of records, each behind its length in two bytes (C2SP tlog-tiles)").Produces<byte[]>(200, "application/octet-stream").ProducesProblem(404));
        open(log.MapGet("/succession", async (LogReader reader, CancellationToken cancellation) => Results.Text(await reader.SuccessionsAsync(cancellation), PlainText, Encoding.UTF8))
            .WithSummary("What the keys of ended logs signed for their successors, oldest first").Produces<string>(200, "text/plain"));
        open(log.MapPost("/cosignatures", TakeAsync).WithSummary("Bring cosignatures of a checkpoint: the checkpoint's text and signature lines of the witnesses that this service knows")
            .Accepts<string>("text/plain").ProducesProblem(404).ProducesProblem(413).ProducesProblem(422));
    }

    private static async Task<IResult> CheckpointAsync(HttpContext http, LogReader reader, CosignatureStore cosignatures, CancellationToken cancellation)
    {
        if (await reader.LatestAsync(cancellation) is not { } latest)
        {
            return NotHere("The log has no checkpoint yet. The first follows the first record within seconds.");
        }

        http.Response.Headers.CacheControl = "no-cache";
        return Results.Text(await cosignatures.NoteAsync(latest, cancellation), PlainText, Encoding.UTF8);
    }

    private static async Task<IResult> TileAsync(HttpContext http, int level, string? index, LogReader reader, CancellationToken cancellation)
    {
        if (level is < 0 or > 7 || Where(index) is not var (tile, width))
        {
            return NotHere("A tile stands at /log/tile/LEVEL/INDEX or .../INDEX.p/WIDTH; INDEX as in x001/x234/067.");
        }

        if (await reader.TileAsync(level, tile, width, cancellation) is not { } bytes)
        {
            return NotHere("No checkpoint reaches that tile yet.");
        }

        // The next log of this plant, should there be one, begins again at the same addresses.
        http.Response.Headers.CacheControl = "max-age=60";
        return Results.Bytes(bytes, "application/octet-stream");
    }

    private static async Task<IResult> EntriesAsync(HttpContext http, string? index, LogReader reader, CancellationToken cancellation)
    {
        if (Where(index) is not var (tile, width))
        {
            return NotHere("A bundle stands at /log/tile/entries/INDEX or .../INDEX.p/WIDTH; INDEX as in x001/x234/067.");
        }

        if (await reader.EntriesAsync(tile, width, cancellation) is not { } entries)
        {
            return NotHere("No checkpoint reaches that bundle yet.");
        }

        if (entries.FirstOrDefault(e => e.Length > LargestEntry) is { } large)
        {
            return Problems.Result(Problems.Of(422, "entry-too-long", "This bundle cannot be served",
                string.Create(CultureInfo.InvariantCulture, $"A record in it has {large.Length} bytes; the form of a bundle holds {LargestEntry}. Take the records from an export instead (ops/plant export).")));
        }

        var bundle = new MemoryStream();
        Span<byte> length = stackalloc byte[2];
        foreach (var entry in entries)
        {
            BinaryPrimitives.WriteUInt16BigEndian(length, (ushort)entry.Length);
            bundle.Write(length);
            bundle.Write(entry);
        }

        // Records, other than hashes, are not everybody's.
        http.Response.Headers.CacheControl = "no-store";
        return Results.Bytes(bundle.ToArray(), "application/octet-stream");
    }

    private static async Task<IResult> TakeAsync(HttpContext http, CosignatureStore cosignatures, CancellationToken cancellation)
    {
        var bytes = new byte[LargestNote + 1];
        var length = await http.Request.Body.ReadAtLeastAsync(bytes, bytes.Length, throwOnEndOfStream: false, cancellation);
        if (length > LargestNote)
        {
            return Problems.Result(Problems.Of(413, "too-large", "The note is too large", string.Create(CultureInfo.InvariantCulture, $"A note holds at most {LargestNote} bytes.")));
        }

        return await cosignatures.TakeAsync(Encoding.UTF8.GetString(bytes, 0, length), cancellation) switch
        {
            null => NotHere("The text is no checkpoint that this log signed. Send the checkpoint's text as it was fetched, an empty line, and the signature lines."),
            0 => Problems.Result(Problems.Of(422, "no-cosignature", "No cosignature of a known witness", "No line is a valid cosignature of a witness in this service's settings (Witnesses:0:Key ...). Ask the plant to enter the witness's key line.")),
            { } taken => Results.Ok(new { taken }),
        };
    }

    /// <summary>Index and width of <c>x001/x234/067</c> or <c>x001/x234/067.p/112</c>; null for anything else.</summary>
    internal static (long Index, int Width)? Where(string? path)
    {
        if (path is null)
        {
            return null;
        }

        var width = TileWriter.Width;
        var partial = path.IndexOf(".p/", StringComparison.Ordinal);
        if (partial >= 0)
        {
            var text = path[(partial + 3)..];
            if (!int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out width) || width is < 1 or > 255 || text[0] == '0')
            {
                return null;
            }

            path = path[..partial];
        }

        var parts = path.Split('/');
        if (parts.Length > 5)
        {
            return null;
        }

        var index = 0L;
        for (var i = 0; i < parts.Length; i++)
        {
            var last = i == parts.Length - 1;
            var digits = last ? parts[i] : parts[i].Length > 0 && parts[i][0] == 'x' ? parts[i][1..] : "";
            if (digits.Length != 3 || !digits.All(char.IsAsciiDigit) || (i == 0 && !last && digits == "000"))
            {
                return null;
            }

            index = (index * 1000) + int.Parse(digits, CultureInfo.InvariantCulture);
        }

        return (index, width);
    }

    private static IResult NotHere(string detail) => Problems.Result(Problems.Of(404, "log", "Not here", detail));
}
