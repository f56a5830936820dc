using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>A kiosk of the form hall with a key of its own, as the service sees one.</summary>
internal sealed class Kiosk : IDisposable
{
    private readonly ECDsa _key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
    private readonly HttpClient _http;

    private Kiosk(Uri address) => _http = new HttpClient { BaseAddress = address };

    public string Id { get; private set; } = "";

    public static async Task<Kiosk> EnrolAsync(PlantHost host)
    {
        using var administrator = await host.SignInAsync(Plant.Administrator);
        using var made = await administrator.PostAsJsonAsync("/v1/devices/codes", new { roles = new[] { "form-crew" } });
        var code = (await made.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("code").GetString();
        var kiosk = new Kiosk(host.Address);
        using var answer = await kiosk._http.PostAsJsonAsync("/v1/devices/enrol",
            new { code, name = "Form hall", publicKey = kiosk.PublicKey });
        answer.EnsureSuccessStatusCode();
        kiosk.Id = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("deviceId").GetString()!;
        return kiosk;
    }

    /// <summary>Entries as the kiosk numbers them, each carrying the hash of the one before it.</summary>
    public List<CloudEvent> Entries(int count, string? source = null)
    {
        var entries = new List<CloudEvent>();
        for (var n = 1; n <= count; n++) entries.Add(Entry(source ?? "/kiosk/" + Id, n, n > 1 ? entries[^1].ContentHash : null));
        return entries;
    }

    public static CloudEvent Entry(string source, int n, string? previous = null, string? unit = null)
    {
        var sent = new Dictionary<string, object>
        {
            ["specversion"] = "1.0",
            ["id"] = Guid.NewGuid().ToString(),
            ["source"] = source,
            ["type"] = "form.oiled.v1",
            ["time"] = TimeProvider.System.GetUtcNow().ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture),
            ["person"] = Plant.FormForeman.Id,
            ["deviceseq"] = n,
            ["data"] = new { form = "RF-FORM-1", unit = unit ?? $"RF-{n:D4}", releaseAgent = "invented agent" },
        };
        if (previous is not null) sent["deviceprev"] = previous;
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(sent));
    }

    public static byte[] Body(params CloudEvent[] entries) => Encoding.UTF8.GetBytes("[" + string.Join(',', entries.Select(e => Encoding.UTF8.GetString(e.Canonical.Span))) + "]");

    public Task<HttpStatusCode> PostAsync(params CloudEvent[] entries) => PostAsync(Body(entries), Body(entries));

    public Task<HttpStatusCode> PostAsync(byte[] body, byte[] signed) => SendAsync(HttpMethod.Post, "/v1/facts", body, "application/cloudevents-batch+json", signed);

    public string PublicKey => Convert.ToBase64String(_key.ExportSubjectPublicKeyInfo());

    /// <summary>The entry with the kiosk's signature in front, as it is sent; over another entry's content where one is given.</summary>
    public byte[] Signed(CloudEvent entry, CloudEvent? over = null)
    {
        var value = Convert.ToBase64String(_key.SignData(Encoding.UTF8.GetBytes($"traceability fact v1\n{(over ?? entry).ContentHash}\n"), HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation));
        return Encoding.UTF8.GetBytes($"{{\"devicesignature\":\"{value}\",{Encoding.UTF8.GetString(entry.Canonical.Span)[1..]}");
    }

    /// <summary>Posts one fact, signed as a request.</summary>
    public Task<HttpStatusCode> PostOneAsync(byte[] fact) => SendAsync(HttpMethod.Post, "/v1/facts", fact, "application/cloudevents+json");

    public Task<HttpStatusCode> SignOnAsync(string person, string pin)
    {
        var body = JsonSerializer.SerializeToUtf8Bytes(new { person, pin });
        return SendAsync(HttpMethod.Post, "/v1/kiosk/sign-on", body, "application/json");
    }

    /// <summary>Posts, signed, and reads the answer.</summary>
    public async Task<JsonElement> AskAsync(string path, object body)
    {
        var bytes = JsonSerializer.SerializeToUtf8Bytes(body);
        var moment = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);
        using var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new ByteArrayContent(bytes) { Headers = { ContentType = new MediaTypeHeaderValue("application/json") } } };
        request.Headers.Add("X-Device-Id", Id);
        request.Headers.Add("X-Device-Time", moment);
        request.Headers.Add("X-Device-Signature", Convert.ToBase64String(_key.SignData([.. Encoding.UTF8.GetBytes($"POST {path}\n{moment}\n"), .. bytes], HashAlgorithmName.SHA256)));
        using var answer = await _http.SendAsync(request);
        answer.EnsureSuccessStatusCode();
        return await answer.Content.ReadFromJsonAsync<JsonElement>();
    }

    public async Task<DeviceSequence> SequenceAsync(PlantHost host)
    {
        using var auditor = await host.SignInAsync(Plant.Auditor);
        return (await auditor.GetFromJsonAsync<DeviceSequence>($"/v1/devices/{Id}/sequence"))!;
    }

    /// <summary>Sends a request signed as a kiosk signs it, or for another body, another address or another moment.</summary>
    public async Task<HttpStatusCode> SendAsync(HttpMethod method, string path, byte[]? body, string? type = null, byte[]? signedBody = null, string? names = null, DateTimeOffset? at = null)
    {
        using var request = new HttpRequestMessage(method, path);
        if (body is not null)
        {
            request.Content = new ByteArrayContent(body);
            request.Content.Headers.ContentType = new MediaTypeHeaderValue(type!);
        }

        var moment = (at ?? TimeProvider.System.GetUtcNow()).ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);
        byte[] signed = [.. Encoding.UTF8.GetBytes($"{names ?? $"{method} {path}"}\n{moment}"), .. body is null ? [] : (byte[])[(byte)'\n', .. signedBody ?? body]];
        request.Headers.Add("X-Device-Id", Id);
        request.Headers.Add("X-Device-Time", moment);
        request.Headers.Add("X-Device-Signature", Convert.ToBase64String(_key.SignData(signed, HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation)));
        using var answer = await _http.SendAsync(request);
        return answer.StatusCode;
    }

    public void Dispose()
    {
        _key.Dispose();
        _http.Dispose();
    }
}
