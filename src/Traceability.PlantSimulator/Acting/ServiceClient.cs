using System.Collections.Concurrent;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Acting;

/// <summary>What the service says became of one fact.</summary>
public sealed record Receipt(string Source, string Id, string Status, Guid? RecordId = null, string? ContentHash = null, long? Position = null, JsonElement? Problem = null)
{
    /// <summary>Committed to the store, now or earlier.</summary>
    public bool IsRecorded => Status is "recorded" or "duplicate" or "conflict" && !IsRefused;

    /// <summary>Intake knows another content under this id and did not take this one.</summary>
    public bool IsRefused => Status == "refused" || (Status == "conflict" && Problem is { } p && p.TryGetProperty("type", out var type) && type.GetString() == "/problems/other-content");

    /// <summary>Nothing will change by asking or sending again.</summary>
    public bool IsFinal => IsRecorded || IsRefused || Status is "quarantined" or "parked" or "claimed" or "early" or "approval";
}

/// <summary>The service said no in a way that sending again does not change.</summary>
public sealed class RefusedException(string message) : Exception(message);

/// <summary>A station's way to the service over HTTP. Sends again until the service has answered for every fact.</summary>
public sealed class ServiceClient : IDisposable
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);
    private static readonly TimeSpan LongestPause = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan LongestWait = TimeSpan.FromSeconds(20);

    // Signed on anew well before the service ends it.
    private static readonly TimeSpan SignOnHolds = TimeSpan.FromHours(3);

    private readonly ConcurrentDictionary<(string Device, string Person), (string Token, long At)> _signOns = new();
    private readonly ConcurrentDictionary<string, SigningKiosk> _kiosks = new(StringComparer.Ordinal);
    private readonly SemaphoreSlim _signingOn = new(1);
    private readonly HttpClient _http;
    private readonly Credentials _credentials;

    public ServiceClient(Uri service, Credentials credentials, TimeSpan? patience = null)
    {
        _credentials = credentials;
        _http = new HttpClient(new SocketsHttpHandler { PooledConnectionLifetime = TimeSpan.FromMinutes(1), MaxConnectionsPerServer = 64 })
        {
            BaseAddress = service,
            Timeout = patience ?? TimeSpan.FromSeconds(20),
        };
    }

    /// <summary>How often something had to be sent again.</summary>
    public long Resends => Interlocked.Read(ref _resends);

    private long _resends;

    /// <summary>From now on the kiosk stands where the station stood.</summary>
    public void Replace(string device, SigningKiosk kiosk) => _kiosks[device] = kiosk;

    /// <summary>Sends facts of one device, as one event or as a batch, until the service has answered for each of them.</summary>
    /// <exception cref="RefusedException">The service refused the request itself.</exception>
    public async Task<IReadOnlyList<Receipt>> SendAsync(string device, IReadOnlyList<CloudEvent> facts, CancellationToken cancel)
    {
        var body = Body(facts, _kiosks.GetValueOrDefault(device));
        var tokens = await SignOnsAsync(device, facts, cancel);
        var type = facts.Count == 1 ? "application/cloudevents+json" : "application/cloudevents-batch+json";
        return await UntilAnsweredAsync(async () =>
        {
            var request = await SignedAsync("v1/facts", device, body, type, cancel);
            if (tokens.Count > 0) request.Headers.Add("X-Sign-On", string.Join(", ", tokens));
            return request;
        }, facts.Count, cancel);
    }

    // Whoever decides or certifies something at a station signs on there first. Where that is not taken, the facts go without, as claims.
    private async Task<IReadOnlyList<string>> SignOnsAsync(string device, IReadOnlyList<CloudEvent> facts, CancellationToken cancel)
    {
        var tokens = new List<string>();
        foreach (var person in facts.Where(f => FactCatalog.All.GetValueOrDefault(f.Type)?.Kind == FactKind.Act && f.Person is not null).Select(f => f.Person!).Distinct(StringComparer.Ordinal))
        {
            if (_credentials.People.FirstOrDefault(p => p.Id == person) is not { } known) continue;
            if (!_signOns.TryGetValue((device, person), out var had) || TimeProvider.System.GetElapsedTime(had.At) > SignOnHolds)
            {
                if (await SignOnAsync(device, known, cancel) is not { } token) continue;
                _signOns[(device, person)] = had = (token, TimeProvider.System.GetTimestamp());
            }

            tokens.Add(had.Token);
        }

        return tokens;
    }

    private async Task<string?> SignOnAsync(string device, PersonCredential person, CancellationToken cancel)
    {
        // One at a time: the first of a new installation chooses the person's own secrets, the others use them.
        await _signingOn.WaitAsync(cancel);
        try
        {
            return await AskForTokenAsync(device, person, cancel);
        }
        finally
        {
            _signingOn.Release();
        }
    }

    private async Task<string?> AskForTokenAsync(string device, PersonCredential person, CancellationToken cancel)
    {
        var pause = TimeSpan.FromMilliseconds(50);
        while (true)
        {
            try
            {
                using var request = await SignedAsync("v1/kiosk/sign-on", device, JsonSerializer.SerializeToUtf8Bytes(new { person = person.Id, pin = person.Pin }), "application/json", cancel);
                using var answer = await _http.SendAsync(request, cancel);
                if (answer.IsSuccessStatusCode) return (await answer.Content.ReadFromJsonAsync<JsonElement>(cancel)).GetProperty("token").GetString();
                if (answer.StatusCode == HttpStatusCode.Forbidden && (await answer.Content.ReadAsStringAsync(cancel)).Contains("/problems/pin-given", StringComparison.Ordinal))
                {
                    await OwnSecrets.ChooseAsync(_http.BaseAddress!, person, cancel);
                    continue;
                }

                if ((int)answer.StatusCode < 500) return null;
            }
            catch (Exception e) when (e is HttpRequestException or IOException || (e is TaskCanceledException && !cancel.IsCancellationRequested))
            {
                // The service is away; facts wait for it too.
            }

            await Task.Delay(pause, cancel);
            pause = Longer(pause);
        }
    }

    /// <summary>Asks what became of facts.</summary>
    public Task<IReadOnlyList<Receipt>> ReceiptsAsync(string device, IReadOnlyList<CloudEvent> facts, CancellationToken cancel) =>
        UntilAnsweredAsync(() => SignedAsync("v1/receipts", device, JsonSerializer.SerializeToUtf8Bytes(facts.Select(f => new { source = f.Source, id = f.Id }), Json), "application/json", cancel), facts.Count, cancel);

    /// <summary>Sends facts and does not return before each is recorded, or the service has said for good that it will not be.</summary>
    public async Task<IReadOnlyList<Receipt>> RecordAsync(string device, IReadOnlyList<CloudEvent> facts, CancellationToken cancel)
    {
        var receipts = await SendAsync(device, facts, cancel);
        var pause = TimeSpan.FromMilliseconds(25);
        var sent = TimeProvider.System.GetTimestamp();
        while (!receipts.All(r => r.IsFinal))
        {
            await Task.Delay(pause, cancel);
            pause = Longer(pause);
            receipts = Merge(facts, receipts, await ReceiptsAsync(device, facts, cancel));
            // The store does not know what still waits on the bus; what it does not know for long is sent again, and does no harm.
            if (receipts.Any(r => r.Status == "unknown") && TimeProvider.System.GetElapsedTime(sent) > LongestWait)
            {
                Interlocked.Increment(ref _resends);
                sent = TimeProvider.System.GetTimestamp();
                receipts = Merge(facts, receipts, await SendAsync(device, facts, cancel));
            }
        }

        return receipts;
    }

    /// <summary>Whether the service answers that it is ready.</summary>
    public async Task<bool> IsReadyAsync(CancellationToken cancel)
    {
        try
        {
            using var answer = await _http.GetAsync("health/ready", cancel);
            return answer.IsSuccessStatusCode;
        }
        catch (Exception e) when (e is HttpRequestException || (e is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            return false;
        }
    }

    public void Dispose()
    {
        _http.Dispose();
        _signingOn.Dispose();
    }

    // What an answer of the recorder said once stays said: a conflict is told at the post and by the receipt of that content.
    private static IReadOnlyList<Receipt> Merge(IReadOnlyList<CloudEvent> facts, IReadOnlyList<Receipt> before, IReadOnlyList<Receipt> now) =>
        [.. facts.Select((f, i) => before[i].IsFinal ? before[i] : now[i])];

    private async Task<IReadOnlyList<Receipt>> UntilAnsweredAsync(Func<Task<HttpRequestMessage>> make, int count, CancellationToken cancel)
    {
        var pause = TimeSpan.FromMilliseconds(50);
        while (true)
        {
            var (receipts, asked) = await TryAsync(make, count, cancel);
            if (receipts is not null) return receipts;
            Interlocked.Increment(ref _resends);
            await Task.Delay(asked > pause ? asked : pause, cancel);
            pause = Longer(pause);
        }
    }

    private async Task<(IReadOnlyList<Receipt>? Receipts, TimeSpan Asked)> TryAsync(Func<Task<HttpRequestMessage>> make, int count, CancellationToken cancel)
    {
        try
        {
            using var request = await make();
            using var answer = await _http.SendAsync(request, cancel);
            var text = await answer.Content.ReadAsStringAsync(cancel);
            if (answer.IsSuccessStatusCode || answer.StatusCode == HttpStatusCode.Conflict)
            {
                var receipts = text.StartsWith('[') ? JsonSerializer.Deserialize<List<Receipt>>(text, Json)! : [JsonSerializer.Deserialize<Receipt>(text, Json)!];
                return receipts.Count == count ? (receipts, default) : throw new RefusedException($"{count} facts were sent and {receipts.Count} receipts came back");
            }

            // Who sends too much waits as long as is asked. At a service that is away the stations of the fault runs press harder than they are asked to: that is what is tried.
            if (answer.StatusCode == HttpStatusCode.TooManyRequests) return (null, answer.Headers.RetryAfter?.Delta ?? default);
            if ((int)answer.StatusCode >= 500 || answer.StatusCode == HttpStatusCode.RequestTimeout) return (null, default);
            throw new RefusedException($"{request.RequestUri} answered {(int)answer.StatusCode}: {text}");
        }
        catch (Exception e) when (e is HttpRequestException or IOException or JsonException || (e is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            return (null, default);
        }
    }

    private async Task<HttpRequestMessage> SignedAsync(string path, string device, byte[] body, string type, CancellationToken cancel)
    {
        var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new ByteArrayContent(body) };
        request.Content.Headers.ContentType = new MediaTypeHeaderValue(type);
        if (_kiosks.TryGetValue(device, out var kiosk))
        {
            var told = await _http.GetFromJsonAsync<JsonElement>("v1/time", cancel);
            kiosk.Sign(request, told.GetProperty("now").GetDateTimeOffset(), body);
        }
        else
        {
            request.Headers.Add("X-Device-Id", device);
            request.Headers.Add("X-Device-Key", _credentials.Device(device).Key);
        }

        return request;
    }

    private static TimeSpan Longer(TimeSpan pause) => pause * 1.5 > LongestPause ? LongestPause : pause * 1.5;

    private static byte[] Body(IReadOnlyList<CloudEvent> facts, SigningKiosk? kiosk)
    {
        byte[] Sent(CloudEvent fact) => kiosk?.Signed(fact) ?? fact.Canonical.ToArray();
        if (facts.Count == 1) return Sent(facts[0]);
        using var body = new MemoryStream();
        for (var i = 0; i < facts.Count; i++)
        {
            body.WriteByte(i == 0 ? (byte)'[' : (byte)',');
            body.Write(Sent(facts[i]));
        }

        body.WriteByte((byte)']');
        return body.ToArray();
    }
}
