using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Net.Sockets;
using System.Runtime.InteropServices;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.WebUtilities;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Intake;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Hostile;

/// <summary>What holds of every answer of the service.</summary>
internal static class Answers
{
    /// <summary>The answer's body. No failure of the service, and a refusal in words.</summary>
    public static async Task<JsonElement> ReadAsync(HttpResponseMessage answer)
    {
        var text = await answer.Content.ReadAsStringAsync();
        var status = (int)answer.StatusCode;
        Attempt.Require(status is < 500 or 503 && status != 503, $"{status}: {text}");
        using var body = text.Length == 0 ? null : JsonDocument.Parse(text);
        var root = body?.RootElement.Clone() ?? default;
        // A conflict is told with the receipt, which holds the problem.
        if (status >= 400) InWords(status == 409 && root.TryGetProperty("problem", out var problem) ? problem : root, answer);
        return root;
    }

    private static void InWords(JsonElement problem, HttpResponseMessage answer) =>
        Attempt.Require(problem.ValueKind == JsonValueKind.Object && problem.GetProperty("title").GetString() is { Length: > 3 } && problem.GetProperty("detail").GetString() is { Length: > 10 },
            $"{(int)answer.StatusCode} without words: {problem}");
}

/// <summary>Facts over HTTP, single and in batches, at the real service on a real database.</summary>
internal sealed class IntakeTarget(PlantHost host, double most) : Target
{
    private const string Single = "application/cloudevents+json", Batch = "application/cloudevents-batch+json";

    private static readonly string[] s_types = ["application/json", "text/plain", "application/cloudevents+xml", "application/cloudevents+json; charset=utf-16", "APPLICATION/CLOUDEVENTS+JSON", "multipart/form-data; boundary=x", "x"];

    private readonly PlantHost _host = host;
    private readonly HttpClient _http = new();
    private readonly List<StoryFact> _story = [.. PlantStory.RigidFrame(seed: 11, units: 1, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5))).Facts];
    private readonly List<DeviceCredential> _devices = [.. host.Credentials.Devices];
    private readonly string _run = Guid.NewGuid().ToString("N")[..8];

    public override string Name => "intake over HTTP";

    public override int Share => 120;

    public override double MostMegabytes => most;

    public override async Task<Answer> TryAsync(Attempt a)
    {
        var answer = a.Below(10) switch
        {
            < 5 => await OneAsync(a),
            < 8 => await ManyAsync(a),
            8 => await UnknownAsync(a),
            _ => await OddAsync(a),
        };
        return answer with { Megabytes = Environment.WorkingSet / 1048576.0 };
    }

    private async Task<Answer> OneAsync(Attempt a)
    {
        var (json, device, person) = Fact(a, 0);
        a.Keep("fact.json", json);
        using var response = await PostAsync(json, Single, device, a.OneIn(2) ? person : null);
        var receipt = await Answers.ReadAsync(response);
        var sent = FactTarget.Read(json);
        if ((int)response.StatusCode >= 400) return Answer.Refused;
        Attempt.Require(sent is not null, "taken in, and the core does not read it");
        Attempt.Require(receipt.GetProperty("contentHash").GetString() == sent!.ContentHash, "taken in with another content");
        Attempt.Require(Status(receipt) != "parked", "taken in and cannot be recorded: " + receipt);
        if (Status(receipt) is not ("recorded" or "received")) return Answer.Taken;

        // The same again gives the same receipt, and another content under its id is none.
        using var again = await PostAsync(json, Single, device, null);
        Attempt.Require((await Answers.ReadAsync(again)).TryGetProperty("recordId", out var id) && id.GetString() == receipt.GetProperty("recordId").GetString(), "sent again it has another receipt");
        return Answer.Taken;
    }

    private async Task<Answer> ManyAsync(Attempt a)
    {
        var count = a.OneIn(100) ? a.Of((int[])[1999, 2000, 2001]) : a.Below(12);
        var (_, device, _) = Fact(a, 0);
        using var body = new MemoryStream();
        body.WriteByte((byte)'[');
        for (var i = 0; i < count; i++)
        {
            if (i > 0) body.WriteByte((byte)',');
            body.Write(count > 100 ? "{}"u8 : Fact(a, i).Json);
        }

        body.WriteByte((byte)']');
        var json = body.ToArray();
        if (a.OneIn(6)) json = Spoil.Bytes(a, json);
        if (a.OneIn(300)) json = [.. json, .. new byte[IntakeEndpoints.LargestRequest]];
        a.Keep("facts.json", json);
        HttpResponseMessage answer;
        try
        {
            answer = await PostAsync(json, Batch, device, null);
        }
        catch (HttpRequestException) when (json.Length > IntakeEndpoints.LargestRequest)
        {
            // Refused while it was still being sent; the connection ends, and the answer may be lost behind it.
            return Answer.Refused;
        }

        using var response = answer;
        var receipts = await Answers.ReadAsync(response);
        if ((int)response.StatusCode >= 400) return Answer.Refused;
        using var sent = JsonDocument.Parse(json, new JsonDocumentOptions { MaxDepth = 1000 });
        Attempt.Require(receipts.GetArrayLength() == sent.RootElement.GetArrayLength(), "not one receipt for each entry");
        var i2 = 0;
        foreach (var entry in sent.RootElement.EnumerateArray())
        {
            var receipt = receipts[i2++];
            Attempt.Require(Status(receipt) != "parked", "taken in and cannot be recorded: " + receipt);
            var read = FactTarget.Read(JsonMarshal.GetRawUtf8Value(entry).ToArray());
            if (Status(receipt) == "refused") Attempt.Require(receipt.GetProperty("problem").GetProperty("detail").GetString() is { Length: > 10 }, "an entry is refused without words");
            else Attempt.Require(read is not null && (Status(receipt) == "conflict" || receipt.GetProperty("contentHash").GetString() == read.ContentHash), "an entry is taken in, and the core does not read it so");
        }

        return Answer.Taken;
    }

    // Whoever does not say who sends, or says it wrongly, brings nothing in.
    private async Task<Answer> UnknownAsync(Attempt a)
    {
        var (json, device, _) = Fact(a, 0);
        var credential = a.Of(_devices);
        using var request = new HttpRequestMessage(HttpMethod.Post, new Uri(_host.Address, "/v1/facts")) { Content = Content(json, Single) };
        var headers = new Dictionary<string, string> { ["X-Device-Id"] = credential.Id, ["X-Device-Key"] = Changed(a, credential.Key) };
        switch (a.Below(5))
        {
            case 0: headers["X-Device-Id"] = Changed(a, credential.Id); headers["X-Device-Key"] = credential.Key + "x"; break;
            case 1: headers.Remove("X-Device-Key"); break;
            case 2: headers.Remove("X-Device-Id"); break;
            case 3:
                headers.Remove("X-Device-Key");
                (headers["X-Device-Signature"], headers["X-Device-Time"]) = (a.Of((string[])["AAAA", "x", Convert.ToBase64String(new byte[64]), Convert.ToBase64String([.. Enumerable.Repeat((byte)255, 64)])]), a.Of((string[])["0", "-1", "x", "9223372036854775807", "99999999999999999999"]));
                break;
        }

        foreach (var (name, value) in headers) request.Headers.TryAddWithoutValidation(name, value);
        a.Keep("headers.txt", string.Join('\n', headers.Select(h => h.Key + ": " + h.Value)));
        using var response = await _http.SendAsync(request);
        await Answers.ReadAsync(response);
        Attempt.Require(response.StatusCode == HttpStatusCode.Unauthorized, $"{(int)response.StatusCode} for who is not known; station {device}");
        return Answer.Refused;
    }

    private async Task<Answer> OddAsync(Attempt a)
    {
        var (json, device, _) = Fact(a, 0);
        if (a.OneIn(2))
        {
            var type = a.Of(s_types);
            using var odd = await PostAsync(json, type, device, null);
            await Answers.ReadAsync(odd);
            Attempt.Require(!odd.IsSuccessStatusCode || type.StartsWith(Single, StringComparison.Ordinal), $"taken in as {type}");
            return odd.IsSuccessStatusCode ? Answer.Taken : Answer.Refused;
        }

        // Asked for receipts.
        var asked = a.Keep("receipts.json", Spoil.Json(a, "[{\"source\":\"/plant/cage-1\",\"id\":\"a\"},{\"source\":\"/plant/form-1\",\"id\":\"b\"}]"u8.ToArray(), json));
        using var request = _host.DeviceRequest(HttpMethod.Post, "/v1/receipts", device, Content(asked, "application/json"));
        using var response = await _http.SendAsync(request);
        await Answers.ReadAsync(response);
        return response.IsSuccessStatusCode ? Answer.Taken : Answer.Refused;
    }

    /// <summary>A fact of the story under an id of its own, as its own station sends it, spoilt or not; or any other, from any station.</summary>
    private (byte[] Json, string Device, string? Person) Fact(Attempt a, int entry)
    {
        if (a.OneIn(4)) return (FactTarget.Make(a), a.Of(_devices).Id, null);
        var fact = a.Of(_story);
        var text = Encoding.UTF8.GetString(fact.Event.Canonical.Span).Replace($"\"id\":{JsonSerializer.Serialize(fact.Event.Id)},", $"\"id\":\"{_run}-{a.Number}-{entry}\",", StringComparison.Ordinal);
        var json = Encoding.UTF8.GetBytes(text);
        return (a.OneIn(8) ? json : Spoil.Json(a, json, a.Of(_story).Event.Canonical.ToArray()), fact.Device, fact.Event.Person);
    }

    private async Task<HttpResponseMessage> PostAsync(byte[] json, string type, string device, string? person)
    {
        using var request = _host.DeviceRequest(HttpMethod.Post, "/v1/facts", device, Content(json, type));
        if (person is not null && _host.Services.GetRequiredService<Register>().Person(person) is { } signedOn)
            request.Headers.Add(SignOnTokens.Header, _host.Services.GetRequiredService<SignOnTokens>().Issue(signedOn, device));
        return await _http.SendAsync(request);
    }

    private static ByteArrayContent Content(byte[] json, string type)
    {
        var content = new ByteArrayContent(json);
        content.Headers.TryAddWithoutValidation("Content-Type", type);
        return content;
    }

    // A header's value is printable; what is not does not leave the client.
    private static string Changed(Attempt a, string right)
    {
        while (true)
        {
            if (new string([.. Spoil.Text(a, right).Where(c => c is > ' ' and <= '~')]) is var changed && changed != right && changed.Length < 4000) return changed;
        }
    }

    private static string? Status(JsonElement receipt) => receipt.GetProperty("status").GetString();

    /// <summary>Everything that was recorded can be judged.</summary>
    public override async Task FinishAsync()
    {
        Attempt.Require(await _host.ScalarAsync("select count(*) from trace.parked") == 0, "facts were taken in that cannot be recorded");
        await using var command = _host.Database.CreateCommand("select distinct subject from trace.about where subject like 'unit:%' order by subject limit 40");
        await using var reader = await command.ExecuteReaderAsync();
        var units = new List<string>();
        while (await reader.ReadAsync()) units.Add(reader.GetString(0)[5..]);
        foreach (var unit in units) Attempt.Require((await _host.JudgeAsync(unit, new DateTimeOffset(2026, 6, 1, 0, 0, 0, TimeSpan.Zero))).Findings.Count > 0, $"unit {unit} is not judged");
    }

    public override ValueTask DisposeAsync()
    {
        _http.Dispose();
        return ValueTask.CompletedTask;
    }
}

/// <summary>Passwords, PINs, sign-on tokens and sessions: a changed one opens nothing, a right one opens.</summary>
internal sealed class SignInTarget(PlantHost host, double most) : Target
{
    private const int Addresses = 40;

    private readonly PlantHost _host = host;
    private readonly List<PersonCredential> _people = [.. host.Credentials.People];
    private readonly List<DeviceCredential> _devices = [.. host.Credentials.Devices];

    // Sign-ins of one address are limited; a guesser has many.
    private readonly HttpClient[] _http = [.. Enumerable.Range(1, Addresses).Select(n => new HttpClient(new SocketsHttpHandler
    {
        UseCookies = false,
        AllowAutoRedirect = false,
        ConnectCallback = async (context, cancel) =>
        {
            var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
            socket.Bind(new IPEndPoint(new IPAddress([127, 0, 1, (byte)n]), 0));
            await socket.ConnectAsync(context.DnsEndPoint, cancel);
            return new NetworkStream(socket, ownsSocket: true);
        },
    }) { BaseAddress = host.Address })];

    public override string Name => "sign-in and sign-on";

    public override int Share => 80;

    public override double MostMegabytes => most;

    private Signing Signing => _host.Services.GetRequiredService<Signing>();

    public override async Task<Answer> TryAsync(Attempt a)
    {
        // Each try is looked at: what the counting of tries does has tests of its own.
        await _host.ExecuteAsync("delete from trace.attempt");
        var answer = a.Below(10) switch
        {
            < 4 => Direct(a),
            4 or 5 => await OverHttpAsync(a, "/v1/sign-in", "password", null),
            6 or 7 => await OverHttpAsync(a, "/v1/kiosk/sign-on", "pin", a.Of(_devices).Id),
            8 => Token(a),
            _ => await SessionAsync(a),
        };
        return answer with { Megabytes = Environment.WorkingSet / 1048576.0 };
    }

    private Answer Direct(Attempt a)
    {
        var (person, pin, right) = (a.Of(_people), a.OneIn(2), a.OneIn(16));
        var (id, secret) = (person.Id, pin ? person.Pin : person.Password);
        if (!right && a.OneIn(4)) id = Spoil.Text(a, id);
        else if (!right) secret = a.OneIn(8) ? a.Of((string[])[person.FirstPassword, person.Id, pin ? person.Password : person.Pin]) : Spoil.Text(a, secret);
        a.Keep("person.txt", id);
        a.Keep("secret.txt", secret);
        var signed = pin ? Signing.Badge(id, secret, a.Of(_devices).Id) : Signing.Password(id, secret, IPAddress.Loopback);
        Attempt.Require(signed.Person is null != right, right ? "the right secret does not sign in: " + signed.Problem?.Detail : $"signed in as {signed.Person?.Id}");
        Attempt.Require(right || (signed.Problem is { Status: 401, Detail.Length: > 20 }), "refused without words");
        return right ? Answer.Taken : Answer.Refused;
    }

    private sealed record Credentials(string? Person, string? Password, string? Pin);

    private async Task<Answer> OverHttpAsync(Attempt a, string path, string kind, string? device)
    {
        var person = a.Of(_people);
        var secret = kind == "pin" ? person.Pin : person.Password;
        var json = JsonSerializer.SerializeToUtf8Bytes(new Dictionary<string, string> { ["person"] = person.Id, [kind] = secret });
        var right = a.OneIn(10);
        if (!right) json = Spoil.Json(a, json, JsonSerializer.SerializeToUtf8Bytes(new { person = a.Of(_people).Id, password = a.Of(_people).Password, pin = a.Of(_people).Pin }));
        a.Keep("body.json", json);
        using var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new ByteArrayContent(json) { Headers = { ContentType = new MediaTypeHeaderValue("application/json") } } };
        if (device is not null)
        {
            request.Headers.Add("X-Device-Id", device);
            request.Headers.Add("X-Device-Key", _host.Credentials.Device(device).Key);
        }

        using var response = await a.Of(_http).SendAsync(request);
        var said = await Answers.ReadAsync(response);
        var cookie = response.Headers.Contains("Set-Cookie");
        if (!response.IsSuccessStatusCode)
        {
            Attempt.Require(!cookie, "refused, and a session was begun");
            Attempt.Require(!right || response.StatusCode == HttpStatusCode.TooManyRequests, "the right secret does not sign in: " + said);
            return Answer.Refused;
        }

        // Whatever stands around them, a byte order mark too: a person and that person's own secret were sent.
        var sent = JsonSerializer.Deserialize<Credentials>(json.AsSpan(json.AsSpan().StartsWith(Encoding.UTF8.Preamble) ? 3 : 0), JsonSerializerOptions.Web)!;
        var who = _people.Find(p => p.Id == sent.Person);
        Attempt.Require(who is not null && (kind == "pin" ? sent.Pin == who.Pin : sent.Password == who.Password), "signed in with another secret");
        Attempt.Require(said.GetProperty("person").GetString() == who!.Id, "signed in as another");
        return Answer.Taken;
    }

    private Answer Token(Attempt a)
    {
        var (tokens, register, person, device) = (_host.Services.GetRequiredService<SignOnTokens>(), _host.Services.GetRequiredService<Register>(), a.Of(_people), a.Of(_devices));
        var right = tokens.Issue(register.Person(person.Id)!, device.Id);
        var other = tokens.Issue(register.Person(a.Of(_people).Id)!, a.Of(_devices).Id);
        var whole = a.OneIn(10);
        var sent = whole ? right : a.Below(5) switch
        {
            0 => right.Split('.')[0] + "." + other.Split('.')[1],
            1 => WebEncoders.Base64UrlEncode(Encoding.UTF8.GetBytes(Spoil.Text(a, Encoding.UTF8.GetString(WebEncoders.Base64UrlDecode(right.Split('.')[0]))))) + "." + right.Split('.')[1],
            2 => string.Join(',', Enumerable.Repeat(Spoil.Text(a, other), 40)),
            _ => Spoil.Text(a, right),
        };
        a.Keep("token.txt", sent);
        var at = whole || a.OneIn(2) ? device.Id : a.Of(_devices).Id;
        var proved = tokens.Proved([sent], at);
        var meant = sent.Split(',').Any(t => Same(t.Trim(), right)) && at == device.Id;
        Attempt.Require(!whole || proved.Contains(person.Id), "a right token proves nobody");
        Attempt.Require(proved.Count == 0 || (meant && proved.SetEquals([person.Id])) || Same(sent, other), $"a changed token proves {string.Join(", ", proved)}");
        return proved.Count > 0 ? Answer.Taken : Answer.Refused;
    }

    // The same bytes: the last letter of base64 may be written in more than one way.
    private static bool Same(string token, string right)
    {
        try
        {
            var (one, two) = (token.Split('.'), right.Split('.'));
            return one.Length == 2 && Enumerable.Range(0, 2).All(i => WebEncoders.Base64UrlDecode(one[i]).AsSpan().SequenceEqual(WebEncoders.Base64UrlDecode(two[i])));
        }
        catch (FormatException)
        {
            return false;
        }
    }

    private string? _cookie;

    private async Task<Answer> SessionAsync(Attempt a)
    {
        if (_cookie is null || a.OneIn(50))
        {
            using var begun = await a.Of(_http).PostAsJsonAsync("/v1/sign-in", new { person = _people[0].Id, password = _people[0].Password });
            if (!begun.IsSuccessStatusCode) return Answer.Refused;
            _cookie = begun.Headers.GetValues("Set-Cookie").First().Split(';')[0];
        }

        var (name, value) = (_cookie[.._cookie.IndexOf('=', StringComparison.Ordinal)], _cookie[(_cookie.IndexOf('=', StringComparison.Ordinal) + 1)..]);
        var right = a.OneIn(10);
        var sent = right ? value : new string([.. Spoil.Text(a, value).Where(c => c is > ' ' and <= '~' and not (';' or ',' or '"'))]);
        a.Keep("cookie.txt", sent);
        using var request = new HttpRequestMessage(HttpMethod.Get, "/v1/units");
        request.Headers.TryAddWithoutValidation("Cookie", $"{name}={sent}");
        using var response = await a.Of(_http).SendAsync(request);
        await Answers.ReadAsync(response);
        var same = right || SameBytes(sent, value);
        Attempt.Require(!right || response.IsSuccessStatusCode, "the right session is refused");
        Attempt.Require(same || response.StatusCode == HttpStatusCode.Unauthorized, $"{(int)response.StatusCode} for a changed session");
        return response.IsSuccessStatusCode ? Answer.Taken : Answer.Refused;
    }

    private static bool SameBytes(string one, string two)
    {
        try
        {
            return WebEncoders.Base64UrlDecode(one).AsSpan().SequenceEqual(WebEncoders.Base64UrlDecode(two));
        }
        catch (FormatException)
        {
            return false;
        }
    }

    public override ValueTask DisposeAsync()
    {
        foreach (var http in _http) http.Dispose();
        return ValueTask.CompletedTask;
    }
}
