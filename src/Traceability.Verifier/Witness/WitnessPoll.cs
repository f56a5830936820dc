using System.Net;
using System.Net.Http.Headers;
using System.Text;

namespace Traceability.Verifier.Witness;

/// <summary>
/// For an agency whose machine the plant cannot reach: it fetches the newest checkpoint of each watched log and the tiles that show how it goes
/// on, cosigns it, and brings the cosignature back.
/// </summary>
internal static class WitnessPoll
{
    /// <summary>One round over all logs that have an address.</summary>
    /// <returns>How many logs could not be cosigned.</returns>
    internal static int Round(WitnessFolder witness, HttpClient http, TimeProvider clock, TextWriter said)
    {
        var failed = 0;
        foreach (var (origin, url) in witness.Logs().Where(l => l.Url is not null))
        {
            try
            {
                said.WriteLine($"{origin}: {One(witness, http, origin, url!, clock)}");
            }
            catch (Exception e) when (e is HttpRequestException or IOException or InvalidDataException or TaskCanceledException or UriFormatException)
            {
                said.WriteLine($"{origin}: NOT cosigned: {e.Message}");
                failed++;
            }
        }

        return failed;
    }

    private static string One(WitnessFolder witness, HttpClient http, string origin, string url, TimeProvider clock)
    {
        var text = Encoding.UTF8.GetString(Get(http, $"{url}/checkpoint", AddCheckpoint.LargestRequest));
        var note = Note.Read(text) ?? throw new InvalidDataException($"{url}/checkpoint is not a checkpoint.");
        if (note.Origin != origin)
        {
            throw new InvalidDataException($"{url}/checkpoint is of the log {note.Origin}.");
        }

        var known = witness.Latest(origin) is { } kept ? Note.Read(kept) : null;
        if (known is not null && known.Size > note.Size)
        {
            throw new InvalidDataException($"The log shows {note.Size} records; this witness cosigned {known.Size}. It was set back, or an old checkpoint is served. Ask the plant.");
        }

        var tiles = new Tiles(path => Get(http, $"{url}/{path}", 256 * 32), note.Size);
        IReadOnlyList<byte[]> proof = known is null || known.Size == 0 || known.Size == note.Size ? [] : tiles.Consistency(known.Size);
        var answer = AddCheckpoint.Answer(witness, AddCheckpoint.Request(known?.Size ?? 0, proof, text), clock.GetUtcNow().ToUnixTimeSeconds());
        if (answer.Status != 200)
        {
            throw new InvalidDataException(answer.Body.TrimEnd());
        }

        using var content = new StringContent($"{note.Body}\n{answer.Body}");
        content.Headers.ContentType = new MediaTypeHeaderValue("text/plain") { CharSet = "utf-8" };
        using var brought = http.PostAsync(new Uri($"{url}/cosignatures"), content).GetAwaiter().GetResult();
        return brought.IsSuccessStatusCode
            ? $"cosigned at {note.Size} records"
            : throw new HttpRequestException($"cosigned at {note.Size} records, but the plant did not take it ({(int)brought.StatusCode}). Is this witness's key in its settings?");
    }

    private static byte[] Get(HttpClient http, string address, int most)
    {
        using var answer = http.GetAsync(new Uri(address), HttpCompletionOption.ResponseHeadersRead).GetAwaiter().GetResult();
        if (answer.StatusCode == HttpStatusCode.NotFound)
        {
            throw new InvalidDataException($"{address} is not there.");
        }

        answer.EnsureSuccessStatusCode();
        using var stream = answer.Content.ReadAsStream();
        using var bytes = new MemoryStream();
        var buffer = new byte[8192];
        int read;
        while ((read = stream.Read(buffer)) > 0)
        {
            bytes.Write(buffer, 0, read);
            if (bytes.Length > most)
            {
                throw new InvalidDataException($"{address} answers with more than {most} bytes.");
            }
        }

        return bytes.ToArray();
    }
}
