using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;

namespace Traceability.Kiosk.Device;

/// <summary>The service answered, and said no.</summary>
/// <param name="status">The HTTP status.</param>
/// <param name="message">What is wrong and what to do, as the service put it.</param>
/// <param name="retryAfter">How long the service asks to wait; null where it asks for nothing.</param>
public sealed class ServiceRefusedException(HttpStatusCode status, string message, TimeSpan? retryAfter = null) : Exception(message)
{
    public TimeSpan? RetryAfter { get; } = retryAfter;

    public HttpStatusCode Status { get; } = status;

    /// <summary>Whether it concerns the kiosk or the moment and not what was sent: the same bytes may pass later.</summary>
    public bool MayPassLater => (int)Status >= 500
        || Status is HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden or HttpStatusCode.NotFound or HttpStatusCode.RequestTimeout or HttpStatusCode.TooManyRequests;
}

/// <summary>
/// The service as the kiosk calls it. Everything but enrolment and the time is signed with the device's key: over
/// "METHOD path\ntime", then, of a request with a body, "\n" and its exact bytes; the time is sent beside it.
/// No answer at all is an <see cref="HttpRequestException"/> or a <see cref="TaskCanceledException"/>.
/// </summary>
public sealed class Service(HttpClient http, Browser browser, ThisDevice device, TimeProvider time)
{
    public static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);

    private static readonly TimeSpan ProbePatience = TimeSpan.FromSeconds(5);

    /// <summary>Asks the time: the proof that the service can be reached, and the measure of the clock.</summary>
    public async Task ProbeAsync()
    {
        using var patience = new CancellationTokenSource(ProbePatience);
        var asked = time.GetUtcNow();
        using var request = new HttpRequestMessage(HttpMethod.Get, "/v1/time");
        request.Headers.CacheControl = new CacheControlHeaderValue { NoStore = true };
        using var answer = await http.SendAsync(request, patience.Token);
        answer.EnsureSuccessStatusCode();
        var told = await answer.Content.ReadFromJsonAsync<TimeAnswer>(Json, patience.Token);
        await device.MeasuredAsync(asked, told!.Now, time.GetUtcNow());
    }

    /// <summary>Makes the key and enrols this kiosk with a code an administrator made.</summary>
    public async Task EnrolAsync(string code, string name)
    {
        var publicKey = await browser.MakeKeyAsync();
        using var answer = await http.PostAsJsonAsync("/v1/devices/enrol", new { code, name, publicKey }, Json);
        await ThrowIfRefusedAsync(answer);
        var enrolled = await answer.Content.ReadFromJsonAsync<Enrolled>(Json);
        await device.EnrolledAsync(enrolled!.DeviceId, name);
    }

    public async Task<T> PostAsync<T>(string path, object body) =>
        JsonSerializer.Deserialize<T>(await PostBytesAsync(path, JsonSerializer.SerializeToUtf8Bytes(body, Json), "application/json"), Json)!;

    /// <summary>Signs facts, by their content hashes, so that their records can be checked by whoever has them.</summary>
    public Task<string[]> SignFactsAsync(IReadOnlyList<string> contentHashes) => browser.SignAllAsync([.. contentHashes.Select(DeviceSignature.Text)]);

    /// <summary>Posts exact bytes, signed.</summary>
    public async Task<byte[]> PostBytesAsync(string path, byte[] body, string contentType)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new ByteArrayContent(body) };
        request.Content.Headers.ContentType = new MediaTypeHeaderValue(contentType);
        return await SendSignedAsync(request, $"POST {path}\n", body);
    }

    public async Task<byte[]> GetAsync(string path)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        return await SendSignedAsync(request, $"GET {path}\n");
    }

    private async Task<byte[]> SendSignedAsync(HttpRequestMessage request, string names, byte[]? body = null)
    {
        // The clock's offset is taken off, so that a kiosk whose clock is wrong is not refused for it.
        var now = time.GetUtcNow() - TimeSpan.FromMilliseconds(device.Clock?.OffsetMs ?? 0);
        var moment = now.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);
        request.Headers.Add("X-Device-Time", moment);
        byte[] signed = [.. Encoding.UTF8.GetBytes(names + moment), .. body is null ? [] : (byte[])[(byte)'\n', .. body]];
        request.Headers.Add("X-Device-Id", device.Identity!.DeviceId);
        request.Headers.Add("X-Device-Signature", await browser.SignAsync(signed));
        using var answer = await http.SendAsync(request);
        await ThrowIfRefusedAsync(answer);
        return await answer.Content.ReadAsByteArrayAsync();
    }

    private static async Task ThrowIfRefusedAsync(HttpResponseMessage answer)
    {
        if (answer.IsSuccessStatusCode) return;
        var text = await answer.Content.ReadAsStringAsync();
        throw new ServiceRefusedException(answer.StatusCode, Problem(text) ?? Words(answer.StatusCode), answer.Headers.RetryAfter?.Delta);
    }

    // RFC 9457; anything else has nothing to say to a person.
    private static string? Problem(string text)
    {
        try
        {
            using var document = JsonDocument.Parse(text);
            // A problem without a detail was not written for this case, and its title ("Unauthorized") helps nobody.
            return document.RootElement.ValueKind == JsonValueKind.Object && document.RootElement.TryGetProperty("detail", out _) ? TextOf(document.RootElement) : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    private static string Words(HttpStatusCode status) => status switch
    {
        HttpStatusCode.Unauthorized => "The service does not know this kiosk. Ask an administrator.",
        HttpStatusCode.Forbidden => "The service does not allow this to this kiosk. Ask an administrator.",
        _ => $"The service answered {(int)status}. Ask an administrator if it stays so.",
    };

    /// <summary>The words of a problem, be it a text or an RFC 9457 object.</summary>
    public static string? TextOf(JsonElement problem)
    {
        if (problem.ValueKind == JsonValueKind.String) return problem.GetString();
        if (problem.ValueKind != JsonValueKind.Object) return null;
        foreach (var name in new[] { "detail", "title" })
        {
            if (problem.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String && value.GetString() is { Length: > 0 } words) return words;
        }

        return null;
    }

    private sealed record TimeAnswer(DateTimeOffset Now);

    private sealed record Enrolled(string DeviceId);
}
